"""What one hole gives in a night, from the stand's own records where there are enough of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import fmean

from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole

DEFAULT_RUN_ML = 3000.0
"""An assumption between published daily figures: 0.54-1.37 L in cool damp weather and 2.50-6.22 L in warm sun for
silver birch (Gryazkin et al. 2023, doi 10.37482/0536-1036-2023-4-180-189), 3.6-4.7 L by age (a Polish study's
abstract), 5-15 L (Finnish Forest Research Institute)."""

VESSEL_ML = 4500.0
"""What a vessel must hold, or a good night overflows it: common practice, no source."""

SAP_KG_PER_L = 1.0021
"""Density of a 1 % sucrose solution at 20 °C: CRC Handbook, 1002.1 kg/m3."""

ENOUGH_FOR_A_TREE = 3
ENOUGH_FOR_A_STAND = 10
"""How many recorded nights outweigh the assumption: assumptions themselves."""


@dataclass(frozen=True, slots=True)
class ExpectedRun:
    """Expected volume of one hole in one night, millilitres, where the figure comes from, and whether it is assumed."""

    volume_ml: float
    basis: str
    assumed: bool


def nightly_ml(stand: Stand, holes: Sequence[TapHole]) -> list[float]:
    """Return what each recorded night gave: a collection spread over the nights since the one before it."""
    nights: list[float] = []
    for hole in holes:
        since = hole.made_on
        for taken in stand.collections_of.get(hole.key, ()):
            count = max(1, (taken.collected_on - since).days)
            nights.extend([taken.volume_ml / count] * count)
            since = taken.collected_on
    return nights


def expected_runs(stand: Stand, tree_keys: Iterable[str]) -> dict[str, ExpectedRun]:
    """Return what a hole of each of these trees is expected to give in one night."""
    everyone = nightly_ml(stand, stand.holes)
    if len(everyone) >= ENOUGH_FOR_A_STAND:
        usual = ExpectedRun(fmean(everyone), f"mean of {len(everyone)} recorded nights of this stand", assumed=False)
    else:
        usual = ExpectedRun(DEFAULT_RUN_ML, "assumed until there are records", assumed=True)
    runs = {}
    for key in tree_keys:
        own = nightly_ml(stand, stand.holes_of.get(key, ()))
        enough = len(own) >= ENOUGH_FOR_A_TREE
        told = f"mean of {len(own)} recorded nights of this tree"
        runs[key] = ExpectedRun(fmean(own), told, assumed=False) if enough else usual
    return runs
