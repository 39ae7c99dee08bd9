"""What stands in a batch's note beside a person's own words: readings as they were given, and what it is part of."""

from __future__ import annotations

MEASURED = "measured:"
REFRACTOMETER = "refractometer:"
PART = "part of:"

LINES = (PART, MEASURED, REFRACTOMETER)
"""What begins such a line; the first such lines of a note, in this order."""


def _value(note: str, begins: str) -> str | None:
    found = next((line for line in note.splitlines() if line.startswith(begins)), None)
    return None if found is None else found.removeprefix(begins).strip()


def with_line(note: str, begins: str, value: str) -> str:
    """Return a note in which such a line holds this value."""
    held = {one: _value(note, one) for one in LINES} | {begins: value}
    own = own_note(note)
    return "\n".join([*(f"{one} {held[one]}" for one in LINES if held[one] is not None), *([own] if own else [])])


def own_note(note: str) -> str:
    """Return a person's own words."""
    return "\n".join(line for line in note.splitlines() if not line.startswith(LINES))


def with_own_note(note: str, own: str) -> str:
    """Return a note with other words of a person's own."""
    lines = [line for line in note.splitlines() if line.startswith(LINES)]
    return "\n".join([*lines, *([own] if own else [])])


def part_of(note: str) -> str | None:
    """Return the name of the batch that this one was taken from, None for a whole one."""
    return _value(note, PART)


def as_measured(note: str) -> str | None:
    """Return its volume as it was given, None where nobody measured it."""
    return _value(note, MEASURED)


def as_read(note: str) -> str | None:
    """Return what the refractometer showed, None where nobody looked."""
    return _value(note, REFRACTOMETER)
