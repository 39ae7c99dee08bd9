"""The order of a round as a value: read from a list of trees, and changed one stop at a time."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from standmap.errors import UserError
from standmap.formats.delimited import DELIMITERS, open_table, unguarded
from standmap.formats.faults import refused, unreadable
from standmap.formats.quantities import plain
from standmap.jobs.planned_round import PlannedRound
from standmap.progress import Unwatched

Orders = tuple[tuple[str, ...], ...]
"""For each trip the keys of its wounds in the order walked."""

Named = tuple[tuple[tuple[str, str], ...], ...]
"""For each trip where each tree is named, such as "order.txt, line 3", and its name or id."""

MOST_BYTES = 1_000_000

COLUMNS = ("trip", "tree", "id")


def orders_of(round_: PlannedRound) -> Orders:
    """Return the order of a planned round."""
    return tuple(tuple(stop.key for stop in trip.stops) for trip in round_.trips)


def moved(orders: Sequence[Sequence[str]], key: str, trip: int, place: int) -> Orders:
    """Return the orders with one stop taken out and put at a place of a trip; a trip left empty is dropped.

    Parameters
    ----------
    trip
        From 0; one past the last makes a new trip.
    place
        Among the stops that stay there, from 0.
    """
    left = [[k for k in order if k != key] for order in orders]
    if trip >= len(left):
        left.append([])
    place = min(max(place, 0), len(left[trip]))
    left[trip].insert(place, key)
    return tuple(tuple(order) for order in left if order)


def place_of(orders: Sequence[Sequence[str]], key: str) -> tuple[int, int]:
    """Return the trip and the place in it, both from 0, of a stop."""
    return next((t, order.index(key)) for t, order in enumerate(map(list, orders)) if key in order)


def stepped(orders: Sequence[Sequence[str]], key: str, step: int) -> Orders:
    """Return the orders with one stop moved a place earlier (-1) or later (+1), over a trip's end into the next."""
    trip, place = place_of(orders, key)
    wanted = place + step
    if 0 <= wanted < len(orders[trip]):
        return moved(orders, key, trip, wanted)
    beyond = trip + step
    if not 0 <= beyond < len(orders):
        return tuple(map(tuple, orders))
    return moved(orders, key, beyond, len(orders[beyond]) if step < 0 else 0)


def read_order(path: Path) -> Named:
    """Read in which order trees are to be walked.

    A list holds one tree a line, and a blank line between two trips. A table has a column "tree" or "id", and "trip"
    where there are several; walk.csv is such a table.

    Raises
    ------
    UserError
        If the file cannot be read or names no tree.
    """
    try:
        if path.stat().st_size > MOST_BYTES:
            raise refused(path, "is too large for a list of trees", "name another file")
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise unreadable(path, error) from None
    except UnicodeDecodeError:
        raise refused(path, "is not text in UTF-8", "save it as plain text in UTF-8") from None
    named = _from_table(path) if _is_table(text) else _from_list(path, text)
    if not named:
        raise refused(path, "names no tree", "write one tree a line, with a blank line between two trips")
    return named


def _is_table(text: str) -> bool:
    head = next((line for line in text.splitlines() if line.strip()), "")
    return any(mark in head and {plain(cell) for cell in head.split(mark)} & {"tree", "id"} for mark in DELIMITERS)


def _from_list(path: Path, text: str) -> Named:
    trips: list[list[tuple[str, str]]] = [[]]
    for number, line in enumerate(text.splitlines(), start=1):
        if line.strip():
            trips[-1].append((f"{path.name}, line {number}", line.strip()))
        elif trips[-1]:
            trips.append([])
    return tuple(tuple(trip) for trip in trips if trip)


def _from_table(path: Path) -> Named:
    table = open_table(path, COLUMNS.__contains__, understood=", ".join(COLUMNS))
    place = {name: table.header.index(name) for name in COLUMNS if name in table.header}
    trips: dict[str, list[tuple[str, str]]] = {}
    for line, cells in table.rows(Unwatched()):
        row = {name: unguarded(cells[at]).strip() if at < len(cells) else "" for name, at in place.items()}
        name = row.get("id") or row.get("tree", "")
        if not name:
            raise UserError(f"{path.name}, line {line}: no tree is named", "name one in each line")
        trips.setdefault(row.get("trip", ""), []).append((f"{path.name}, line {line}", name))
    return tuple(map(tuple, trips.values()))
