"""The stand cut into parts of about equal numbers of trees, so that a season's trees can lie close together."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

TREES_A_BLOCK = 25
"""A block holds no more trees than this: about what one walk can serve (an assumption)."""


def blocks(xy: NDArray[np.float64], most: int = TREES_A_BLOCK) -> NDArray[np.int64]:
    """Return the block of each tree, numbered from 0.

    Parameters
    ----------
    xy
        Shape (n, 2), metres in a flat frame.
    most
        Trees in a block.

    Notes
    -----
    A part with more is cut in two halves across its longer side, again and again; the same trees give the same blocks.
    """
    block = np.zeros(len(xy), np.int64)
    count = 0
    waiting = [np.arange(len(xy))] if len(xy) else []
    while waiting:
        part = waiting.pop()
        if len(part) <= most:
            block[part] = count
            count += 1
            continue
        across = int(np.ptp(xy[part], axis=0).argmax())
        order = part[np.lexsort((part, xy[part, 1 - across], xy[part, across]))]
        half = len(order) // 2
        waiting += [order[half:], order[:half]]
    return block
