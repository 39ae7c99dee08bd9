"""The table of signs of the season: which was seen on which day; taken whole or refused whole."""

from __future__ import annotations

import csv
from pathlib import Path

from standmap.formats.content import Findings, FoundSign
from standmap.formats.delimited import DELIMITERS, guarded, open_table, to_bytes, unguarded
from standmap.formats.faults import Unusable, refused, shown
from standmap.formats.quantities import plain
from standmap.formats.texts import day_of, line_of, note_of, same_word
from standmap.progress import Progress, Unwatched
from standmap.season.answer import Sign
from standmap.stand.snapshot import Stand

HEADER = ("sign", "date", "note")


def write_signs_csv(stand: Stand) -> bytes:
    """Return the signs of all seasons, by day."""
    rows = sorted(stand.signs, key=lambda sign: (sign.seen_on, sign.what))
    return to_bytes(HEADER, [[guarded(row.what), row.seen_on.isoformat(), guarded(row.note)] for row in rows])


def is_signs_table(head: bytes) -> bool:
    """Return whether a text, given its first bytes, has the headings of a table of signs."""
    for codec in ("utf-8-sig", "utf-16"):
        first = next((line for line in head.decode(codec, errors="ignore").splitlines() if line.strip()), "")
        for delimiter in DELIMITERS:
            try:
                names = {plain(cell) for cell in next(csv.reader([first], delimiter=delimiter), [])}
            except csv.Error:
                continue
            if {"sign", "date"} <= names:
                return True
    return False


def read_signs_csv(path: Path, *, progress: Progress | None = None) -> Findings:
    """Read a table of signs.

    Raises
    ------
    UserError
        If the file is no such table, or a row is at fault: its line is named, and nothing of it is used.
    """
    table = open_table(path, HEADER.__contains__, understood=", ".join(HEADER))
    at = {name: index for index, name in reversed(list(enumerate(table.header)))}
    signs = []
    for line, cells in table.rows(progress or Unwatched()):
        row = {name: cells[at[name]] if at.get(name, len(cells)) < len(cells) else "" for name in HEADER}
        try:
            seen_on = day_of(row["date"])
            note = note_of(unguarded(row["note"]))
            signs.append(FoundSign(f"line {line}", _sign(line_of(unguarded(row["sign"]))), seen_on, note))
        except Unusable as reason:
            what, _, remedy = str(reason).partition("; ")
            raise refused(path, what, remedy, where=f"line {line}") from None
    return Findings("signs", len(signs), signs=tuple(signs), told=table.told)


def _sign(text: str) -> str:
    for sign in Sign:
        if same_word(sign) == same_word(text):
            return str(sign)
    raise Unusable(f"'{shown(text)}' is no sign of the season; they are: {', '.join(Sign)}")
