"""What was ticked and typed of a tapping or closing walk, kept as it was typed. No Qt here."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from standmap.desktop.card import typed
from standmap.errors import UserError
from standmap.jobs.walk_done import DoneRow, Made, SeenTo
from standmap.stand.tapping import Act
from standmap.units_shown import UnitsShown

_READ: Mapping[str, Callable[[str, UnitsShown], float | None]] = {
    "height": typed.height_mm,
    "side": lambda text, _: typed.side_deg(text),
    "depth": typed.depth_mm,
    "bit": typed.bit_mm,
}
FIGURES = tuple(_READ)
"""What may be measured of a hole."""

IN_ORDER = (Act.TAKEN_OUT, Act.PLUGGED, Act.LEFT_OPEN)
"""What may be done to a wound, in the order of the work; of the last two at most one."""


@dataclass(frozen=True, slots=True)
class Wrong:
    """What is wrong with one figure of a line."""

    figure: str
    error: UserError


@dataclass(slots=True)
class TypedStop:
    """One line: whether the hole was made and its figures, or what was done to the wound."""

    made: bool = False
    figures: dict[str, str] = field(default_factory=dict)
    acts: set[Act] = field(default_factory=set)

    @property
    def anything(self) -> bool:
        """Whether something was ticked."""
        return self.made or bool(self.acts)

    def put(self, figure: str, text: str) -> None:
        """Take a figure as typed; a hole with one was made."""
        self.figures[figure] = text
        self.made = self.made or bool(text.strip())

    def turn(self, act: Act, *, on: bool) -> None:
        """Tick an act, or no longer: a wound is plugged or left open, not both."""
        if not on:
            self.acts.discard(act)
            return
        self.acts.add(act)
        self.acts -= {Act.PLUGGED: {Act.LEFT_OPEN}, Act.LEFT_OPEN: {Act.PLUGGED}}.get(act, set())


class DoneTyped:
    """The lines of one walk by the keys of its stops."""

    def __init__(self) -> None:
        self._lines: dict[str, TypedStop] = {}

    def line(self, key: str) -> TypedStop:
        """Return a line."""
        return self._lines.setdefault(key, TypedStop())

    def clear(self) -> None:
        """Forget everything."""
        self._lines.clear()

    def anything(self, rows: Iterable[DoneRow]) -> bool:
        """Whether something was ticked in these lines."""
        return any(self.line(row.key).anything for row in rows)

    def made(self, rows: Iterable[DoneRow], units: UnitsShown) -> tuple[tuple[Made, ...], Mapping[str, Wrong]]:
        """Return the holes that were made, and what is wrong, by the key of the stop."""
        made: list[Made] = []
        errors: dict[str, Wrong] = {}
        for row in rows:
            line = self.line(row.key)
            if not line.made:
                continue
            values: dict[str, float | None] = {}
            for name, read in _READ.items():
                try:
                    values[f"{name}_{'deg' if name == 'side' else 'mm'}"] = read(line.figures.get(name, ""), units)
                except UserError as error:
                    errors.setdefault(row.key, Wrong(name, error))
            if row.key not in errors:
                made.append(Made(row, **values))
        return tuple(made), errors

    def seen_to(self, rows: Iterable[DoneRow]) -> tuple[SeenTo, ...]:
        """Return what was done to wounds."""
        found = ((row, tuple(act for act in IN_ORDER if act in self.line(row.key).acts)) for row in rows)
        return tuple(SeenTo(row, acts) for row, acts in found if acts)
