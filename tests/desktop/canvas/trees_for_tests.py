"""Trees made by hand for the tests of the map."""

from __future__ import annotations

import numpy as np

from standmap.desktop.canvas.trees import Trees
from standmap.rules.columns import CODES
from standmap.rules.judgement import Verdict


def some_trees(xy: list[tuple[float, float]], verdicts: list[Verdict] | None = None, girth_mm: float = 1000.0) -> Trees:
    """Return trees named T0, T1 ... at positions in metres, ready unless told otherwise."""
    count = len(xy)
    codes = [CODES.index(v) for v in verdicts or [Verdict.READY] * count]
    resting = np.array([c == CODES.index(Verdict.RESTING) for c in codes])
    return Trees(
        tuple(f"k{i}" for i in range(count)),
        tuple(f"T{i}" for i in range(count)),
        np.array(xy, float).reshape(-1, 2),
        np.full(count, girth_mm),
        np.array(codes, np.uint8),
        np.where(resting, 0.5, np.nan),
    )
