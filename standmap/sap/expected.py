"""What one hole gives in a usual night or a given one, by tree, from the stand's own records and published figures."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from standmap.sap.girths import girth_mm
from standmap.sap.night import NightRun
from standmap.sap.priors import PUBLISHED
from standmap.sap.warmth import day_means_c, night_warmth_c
from standmap.stand.snapshot import Stand

if TYPE_CHECKING:
    from standmap.sap.model import SapModel

DEFAULT_RUN_ML = PUBLISHED.run_ml.value
"""Of a usual stem in a usual night of a stand without records; `priors` says where it comes from."""

VESSEL_ML = 4500.0
"""What a vessel must hold, or a good night overflows it: common practice, no source."""

SAP_KG_PER_L = 1.0021
"""Density of a 1 % sucrose solution at 20 °C: CRC Handbook, 1002.1 kg/m3."""


@dataclass(frozen=True, slots=True)
class ExpectedRun:
    """Expected volume of one hole in one night, millilitres, where the figure comes from, and whether it is assumed."""

    volume_ml: float
    basis: str
    assumed: bool


def learned(stand: Stand) -> SapModel:
    """Return what a stand's records teach; takes up to seconds where there are tens of thousands of them."""
    # Loading the solvers takes longer than much that only wants a figure of this file.
    from standmap.sap.model import learn
    from standmap.sap.records import records_of

    return learn(records_of(stand))


def night_runs(
    stand: Stand,
    tree_keys: Iterable[str],
    model: SapModel | None = None,
    day: date | None = None,
    mean_c: float | None = None,
) -> dict[str, NightRun]:
    """Return what a hole of each of these trees gives in one night.

    Parameters
    ----------
    model
        What the stand's records teach where it is at hand; learned anew otherwise.
    day
        On which the night ends; None for a usual night of any year.
    mean_c
        How warm it is, °C; None for what the stand's weather says of the day, or the usual.
    """
    keys = list(dict.fromkeys(tree_keys))
    if not keys:
        return {}
    model = learned(stand) if model is None else model
    if day is not None and mean_c is None:
        mean_c = night_warmth_c(day_means_c(stand), day)
    runs = model.night_of_each(keys, [girth_mm(stand, key, day) for key in keys], day, mean_c)
    return dict(zip(keys, runs, strict=True))


def expected_runs(
    stand: Stand,
    tree_keys: Iterable[str],
    model: SapModel | None = None,
    day: date | None = None,
    mean_c: float | None = None,
) -> dict[str, ExpectedRun]:
    """Return the middle of what a hole of each of these trees gives in one night; see `night_runs`."""
    runs = night_runs(stand, tree_keys, model, day, mean_c)
    return {key: ExpectedRun(run.median_ml, run.basis, run.assumed) for key, run in runs.items()}
