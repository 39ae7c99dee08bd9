"""How far one night's run may lie from what is expected: told as low and high, never as a promise."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from standmap.sap.expected import ENOUGH_FOR_A_STAND, ENOUGH_FOR_A_TREE, nightly_ml
from standmap.stand.snapshot import Stand

ASSUMED_LOW_ML = 540.0
ASSUMED_HIGH_ML = 6220.0
"""The least and the most of the published daily figures for silver birch, cool damp weather to warm sun (Gryazkin et
al. 2023, doi 10.37482/0536-1036-2023-4-180-189)."""

LOW_PART, HIGH_PART = 0.1, 0.9
"""One night in ten gave less than the low figure, and one in ten more than the high one."""


@dataclass(frozen=True, slots=True)
class RunSpread:
    """What one hole may give in one night, millilitres, and what the two figures rest on."""

    low_ml: float
    high_ml: float
    basis: str


def run_spreads(stand: Stand, tree_keys: Iterable[str]) -> dict[str, RunSpread]:
    """Return how low and how high one night of one hole of each of these trees may be.

    With too few nights of its own a tree takes the stand's; a stand with too few takes published figures.
    """
    everyone = nightly_ml(stand, stand.holes)
    usual = RunSpread(
        ASSUMED_LOW_ML, ASSUMED_HIGH_ML, "published daily figures for silver birch, until there are records"
    )
    if len(everyone) >= ENOUGH_FOR_A_STAND:
        usual = _of(everyone, "of this stand")
    spreads = {}
    for key in tree_keys:
        own = nightly_ml(stand, stand.holes_of.get(key, ()))
        # The ends of a spread ask for more nights than its middle.
        spreads[key] = _of(own, "of this tree") if len(own) >= max(ENOUGH_FOR_A_TREE, ENOUGH_FOR_A_STAND) else usual
    return spreads


def _of(nights: list[float], whose: str) -> RunSpread:
    low, high = np.quantile(nights, [LOW_PART, HIGH_PART])
    return RunSpread(float(low), float(high), f"the middle eight tenths of {len(nights)} recorded nights {whose}")
