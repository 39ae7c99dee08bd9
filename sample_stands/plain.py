"""Plain files for the sample woods: degrees from metres, and tables."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from standmap.survey.frame import WorkingFrame

XY = tuple[float, float]


def degrees(frame: WorkingFrame, points: Iterable[XY]) -> list[XY]:
    """Return longitudes and latitudes to about a centimetre."""
    x, y = np.array(list(points), dtype=float).T
    lon, lat = frame.to_lonlat(x, y)
    return [(round(a, 7), round(b, 7)) for a, b in zip(lon.tolist(), lat.tolist(), strict=True)]


def table(header: Sequence[str], rows: Iterable[Sequence[str]]) -> bytes:
    """Return a table as RFC 4180 has it."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(header)
    writer.writerows(rows)
    return text.getvalue().encode()
