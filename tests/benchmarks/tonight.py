"""How often what is told of the coming night comes true, on invented stands (--stands N of them).

A season that nobody has seen, told from those before it under its weather: vessels that hang one, two and three nights,
and what all holes bring together. Printed as JSON, in per cent.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from itertools import pairwise
from pathlib import Path

import numpy as np
from scipy.special import ndtr

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from standmap.sap.model import learn
from standmap.sap.sums import summed, total_of
from standmap.sap.together import together
from tests.benchmarks.sap import stands as drawn
from tests.sap.invented import FIRST_YEAR, Invented, records

TREES, NIGHTS = 20, 15
LASTING = 0.4
VESSEL_ML = 4500.0
STEPS = (0.0, 0.05, 0.1, 0.2, 0.4, 0.6, 1.0)


def season(made: Invented, seasons: int, hung: int) -> tuple[list[tuple[float, bool]], list[tuple[bool, bool]]]:
    """Return chances of running over with whether each did, and whether totals stayed below middle and most."""
    model = learn(records(made).before(FIRST_YEAR + seasons))
    keys, girths = [f"t{k:05d}" for k in range(TREES)], made.girth_mm.tolist()
    over: list[tuple[float, bool]] = []
    totals: list[tuple[bool, bool]] = []
    first = seasons * NIGHTS
    for last in range(first + hung - 1, first + NIGHTS, hung):
        nights = range(last, last - hung, -1)
        told = together(model, keys, girths, [(made.days[n], float(made.warmth_c[n])) for n in nights])
        parts = np.ones(told.middles.shape)
        middles, spreads = summed(told.middles, told.covariances, parts)
        _, shared = summed(told.middles, np.broadcast_to(told.shared, told.covariances.shape), parts)
        came = made.run_ml[list(nights)].sum(axis=0)
        chances = ndtr((middles - np.log(VESSEL_ML)) / spreads)
        over += zip(chances.tolist(), (came > VESSEL_ML).tolist(), strict=True)
        held = np.minimum(came, VESSEL_ML).sum()
        total = total_of(middles, spreads, np.minimum(shared, spreads), np.full(TREES, VESSEL_ML))
        totals.append((bool(held <= total.median_ml), bool(held <= total.most_ml)))
    return over, totals


def measured(stands: int, seed: int, seasons: int, hung: int) -> dict[str, object]:
    """Return how often it came true over so many stands."""
    over, totals = [], []
    for _, made in drawn(stands, seed, seasons + 1, lasting=LASTING):
        one, other = season(made, seasons, hung)
        over += one
        totals += other
    chances, came = np.array([c for c, _ in over]), np.array([c for _, c in over])
    rows = []
    for least, most in pairwise(STEPS):
        mine = (chances >= least) & (chances < most)
        if mine.any():
            rows.append(
                [int(mine.sum()), round(float(chances[mine].mean()) * 100), round(float(came[mine].mean()) * 100)]
            )
    below = np.array(totals).mean(axis=0) * 100
    return {
        "seasons_known": seasons,
        "nights_hung": hung,
        "totals": len(totals),
        "totals_below_middle": round(float(below[0])),
        "totals_below_most": round(float(below[1])),
        "vessels_told_came": rows,
    }


def main() -> None:
    """Print all of it."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--stands", type=int, default=100)
    asked.add_argument("--seed", type=int, default=20261126)
    given = asked.parse_args()
    begun = time.process_time()
    found = [measured(given.stands, given.seed, seasons, hung) for seasons in (0, 1, 3) for hung in (1, 2, 3)]
    seconds = round(time.process_time() - begun, 1)
    print(json.dumps({"stands": given.stands, "seed": given.seed, "measured": found, "processor_seconds": seconds}))


if __name__ == "__main__":
    main()
