"""Where labels stand so that none covers another, a chosen dial, or, while there is room, any dial. No Qt here."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

CELL_PX = 4
"""Side of a cell of the grid in which taken room is kept."""

GAP_PX = 4.0
"""Between a mark and its label."""

MOST_SHOWN = 110
"""Labels in one picture; more cannot be read."""


class Rank(IntEnum):
    """Who comes first where there is no room for all."""

    CHOSEN = 0
    POINTED = 1
    STOP = 2
    PLACE = 3
    TREE = 4
    GROUND = 5


@dataclass(frozen=True, slots=True)
class Label:
    """A text beside a point of the view.

    Parameters
    ----------
    x, y
        The point, logical pixels.
    clear_px
        Radius of the mark at the point, which the text keeps off.
    strong
        In heavier type.
    """

    text: str
    x: float
    y: float
    clear_px: float = 8.0
    rank: Rank = Rank.TREE
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Placed:
    """A label and the left and top of its text, logical pixels."""

    label: Label
    left: float
    top: float


class Room:
    """The view as a grid of taken and free cells; a row of cells is one whole number, its bits the taken ones.

    Parameters
    ----------
    width, height
        Logical pixels.
    """

    def __init__(self, width: float, height: float) -> None:
        self._width, self._height = width, height
        self._columns = int(width) // CELL_PX + 1
        self._rows = [0] * (int(height) // CELL_PX + 1)

    def take(self, left: float, top: float, right: float, bottom: float) -> None:
        """Take a rectangle, as far as it lies in the view."""
        first, last = max(int(left) // CELL_PX, 0), min(int(right) // CELL_PX, self._columns - 1)
        if last < first or right < 0 or bottom < 0:
            return
        bits = ((1 << (last - first + 1)) - 1) << first
        for row in range(max(int(top) // CELL_PX, 0), min(int(bottom) // CELL_PX + 1, len(self._rows))):
            self._rows[row] |= bits

    def take_dials(self, xy: NDArray[np.float64], radius_px: NDArray[np.float64]) -> None:
        """Take the middles of dials, shape (n, 2) and (n,): a label may touch a rim but never lies over a dial."""
        reach = 0.8 * radius_px[:, None]
        most = (self._columns, len(self._rows))
        low = np.clip(np.floor((xy - reach) / CELL_PX), 0, most).astype(np.intp)
        high = np.clip(np.floor((xy + reach) / CELL_PX) + 1, 0, most).astype(np.intp)
        # Plus one where a rectangle begins, minus one where it ends; summed along both axes: how many lie on a cell.
        edges = np.zeros((most[1] + 1, most[0] + 1), np.int16)
        for rows, columns, by in (
            (low[:, 1], low[:, 0], 1),
            (high[:, 1], high[:, 0], 1),
            (low[:, 1], high[:, 0], -1),
            (high[:, 1], low[:, 0], -1),
        ):
            np.add.at(edges, (rows, columns), by)
        covered = np.packbits(
            np.cumsum(np.cumsum(edges, 0, np.int16), 1, np.int16)[:-1, :-1] > 0, axis=1, bitorder="little"
        )
        for row in np.flatnonzero(covered.any(axis=1)).tolist():
            self._rows[row] |= int.from_bytes(covered[row].tobytes(), "little")

    def free(self, left: float, top: float, right: float, bottom: float) -> bool:
        """Return whether a rectangle lies wholly in the view and on free cells."""
        if left < 0 or top < 0 or right > self._width or bottom > self._height:
            return False
        first = int(left) // CELL_PX
        bits = ((1 << (int(right) // CELL_PX - first + 1)) - 1) << first
        return not any(row & bits for row in self._rows[int(top) // CELL_PX : int(bottom) // CELL_PX + 1])


def _spots(label: Label, width: float, height: float) -> Iterable[tuple[float, float]]:
    """Yield left and top of the places tried for a text, the best first."""
    off = label.clear_px + GAP_PX
    near = 0.6 * label.clear_px + GAP_PX
    x, y = label.x, label.y
    yield x + off, y - height / 2
    yield x + near, y - near - height
    yield x + near, y + near
    yield x - off - width, y - height / 2
    yield x - near - width, y - near - height
    yield x - near - width, y + near
    yield x - width / 2, y - off - height
    yield x - width / 2, y + off
    for left in (x - label.clear_px, x + label.clear_px - width):  # in line with an edge of the mark
        yield left, y - off - height
        yield left, y + off


def place(labels: Sequence[Label], room: Room, measure: Callable[[Label], tuple[float, float]]) -> list[Placed]:
    """Set labels one after another, the first ranks first; one without room is left out.

    Parameters
    ----------
    room
        What is taken already; what is set here is taken from it too.
    measure
        Returns width and height of a label's text, logical pixels.
    """
    placed: list[Placed] = []
    for label in sorted(labels, key=lambda each: each.rank):
        if len(placed) == MOST_SHOWN:
            break
        if not label.text:
            continue
        width, height = measure(label)
        for left, top in _spots(label, width, height):
            if room.free(left, top, left + width, top + height):
                room.take(left - 2, top, left + width + 2, top + height)
                placed.append(Placed(label, left, top))
                break
    return placed
