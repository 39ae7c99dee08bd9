"""How far one night's run may lie from what is expected: told as low and high, never as a promise."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from standmap.sap.expected import night_runs
from standmap.sap.night import NightRun
from standmap.stand.snapshot import Stand

if TYPE_CHECKING:
    from standmap.sap.model import SapModel

LOW_PART, HIGH_PART = 0.1, 0.9
"""One night in ten gives less than the low figure, and one in ten more than the high one."""

ASSUMED_SPREAD = "published daily figures for silver birch, until there are records"


@dataclass(frozen=True, slots=True)
class RunSpread:
    """What one hole may give in one night, millilitres, and what the two figures rest on."""

    low_ml: float
    high_ml: float
    basis: str


def run_spreads(
    stand: Stand,
    tree_keys: Iterable[str],
    model: SapModel | None = None,
    day: date | None = None,
    mean_c: float | None = None,
) -> dict[str, RunSpread]:
    """Return how low and how high one night of one hole of each of these trees may be; see `night_runs`."""
    return {key: spread_of(run) for key, run in night_runs(stand, tree_keys, model, day, mean_c).items()}


def spread_of(run: NightRun) -> RunSpread:
    """Return how low and how high a night may be."""
    basis = ASSUMED_SPREAD if run.assumed else f"eight nights of ten, from {run.basis}"
    return RunSpread(run.quantile_ml(LOW_PART), run.quantile_ml(HIGH_PART), basis)
