"""What tests read out of a PDF: its text, the sizes of its pages, and the black discs drawn on one."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from pypdf import PdfReader
from pypdf.generic import ContentStream

MM = 72 / 25.4


@dataclass(frozen=True)
class Shape:
    """A filled or stroked path: its points on the page in millimetres, and what painted it."""

    xy: NDArray[np.float64]
    curved: bool
    filled: bool
    grey: float

    @property
    def box(self) -> tuple[float, float, float, float]:
        return (*self.xy.min(axis=0).tolist(), *self.xy.max(axis=0).tolist())


def pages(content: bytes) -> list[str]:
    return [page.extract_text() for page in PdfReader(io.BytesIO(content)).pages]


def text(content: bytes) -> str:
    """Return all text without line breaks, and without spaces that keep a number with its unit."""
    return " ".join(" ".join(pages(content)).replace("\u00a0", " ").split())


def sizes_mm(content: bytes) -> list[tuple[float, float]]:
    boxes = [page.mediabox for page in PdfReader(io.BytesIO(content)).pages]
    return [(round(float(b.width) / MM, 1), round(float(b.height) / MM, 1)) for b in boxes]


def shapes(content: bytes, page: int = 0) -> Iterator[Shape]:
    """Yield every path that is painted on a page, in the order of painting."""
    reader = PdfReader(io.BytesIO(content))
    matrix, grey = np.eye(3), 0.0
    kept: list[tuple[NDArray[np.float64], float]] = []
    points: list[tuple[float, float]] = []
    curved = False
    for operands, operator in ContentStream(reader.pages[page].get_contents(), reader).operations:
        numbers = [float(o) for o in operands] if operator in _NUMERIC else []
        match operator:
            case b"q":
                kept.append((matrix, grey))
            case b"Q":
                matrix, grey = kept.pop()
            case b"cm":
                a, b, c, d, e, f = numbers
                matrix = np.array([[a, b, 0], [c, d, 0], [e, f, 1]]) @ matrix
            case b"g":
                grey = numbers[0]
            case b"m" | b"l":
                points.append((numbers[0], numbers[1]))
            case b"c":
                points += [(numbers[0], numbers[1]), (numbers[2], numbers[3]), (numbers[4], numbers[5])]
                curved = True
            case b"re":
                x, y, w, h = numbers
                points += [(x, y), (x + w, y + h)]
            case b"f" | b"f*" | b"F" | b"S" | b"s" | b"B" | b"b" | b"B*" | b"n":
                if points and operator != b"n":
                    flat = np.column_stack([np.array(points), np.ones(len(points))]) @ matrix
                    yield Shape(flat[:, :2] / MM, curved, operator not in (b"S", b"s"), grey)
                points, curved = [], False


_NUMERIC = {b"cm", b"g", b"m", b"l", b"c", b"re"}


def discs(content: bytes, radius_mm: float, page: int = 0) -> NDArray[np.float64]:
    """Return the middles of black discs of this radius, millimetres on the page, shape (n, 2)."""
    found = []
    for shape in shapes(content, page):
        left, low, right, high = shape.box
        round_enough = abs(right - left - 2 * radius_mm) < 0.02 and abs(high - low - 2 * radius_mm) < 0.02
        if shape.curved and shape.filled and shape.grey == 0 and round_enough:
            found.append(((left + right) / 2, (low + high) / 2))
    return np.array(found).reshape(-1, 2)
