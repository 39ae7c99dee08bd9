"""How much better a walk is that heeds what is carried than the walk of least metres, in the same unit.

Invented woods, seeded: taps at random in 300 by 300 m with a gentle slope, two to four and a half litres each, 15 kg a
person with 1 kg of cans. Both walks are reckoned alike, with the load on every leg: minutes, or kilograms times metres.
"""

from __future__ import annotations

import argparse
import json
import statistics
import time
from dataclasses import replace

import numpy as np

from standmap.rounds.carrying import Carrying
from standmap.rounds.general import plan_general
from standmap.rounds.ground import Ground
from standmap.rounds.heights import Heights
from standmap.rounds.problem import Aim, RoundProblem, Tap
from standmap.rounds.round import Round
from standmap.rounds.solve import plan
from standmap.rounds.stop import MaxSeconds


def wood(count: int, seed: int, *, slope: float) -> RoundProblem:
    """Return an invented morning; `slope` is the rise to the north for each metre."""
    rng = np.random.default_rng(seed)
    xy, kg = rng.uniform(-150, 150, (count, 2)), rng.uniform(2.0, 4.5, count)
    taps = tuple(
        Tap(f"t{k:03d}", (float(x), float(y)), float(w), 3.0) for k, ((x, y), w) in enumerate(zip(xy, kg, strict=True))
    )
    rows = np.arange(-200.0, 201.0, 20.0)
    heights = Heights(-200.0, -200.0, 20.0, np.repeat(slope * rows[:, None], len(rows), axis=1)) if slope else None
    return RoundProblem(
        (0.0, -140.0),
        taps,
        15.0,
        1.0,
        obstacles=Ground(heights=heights),
        speed_m_per_min=50.0,
        carrying=Carrying(),
    )


def _value(found: Round, aim: Aim) -> float:
    return found.minutes if aim is Aim.TIME else found.kg_m


def main() -> None:
    """Run and print a JSON list."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--taps", type=int, nargs="+", default=[30, 60, 100])
    parser.add_argument("--seeds", type=int, default=20)
    parser.add_argument("--seconds", type=float, default=10.0)
    parser.add_argument("--slope", type=float, default=0.08)
    parser.add_argument("--json", action="store_true", help="as always")
    options = parser.parse_args()
    rows = []
    for count in options.taps:
        for aim in (Aim.TIME, Aim.EFFORT):
            saved, proved, gaps, seconds = [], 0, [], []
            for seed in range(options.seeds):
                problem = wood(count, 20260328 + seed, slope=options.slope)
                level = replace(problem, obstacles=Ground())
                order = plan(level, stop=MaxSeconds(options.seconds))
                least_metres = _as_walked(problem, order)
                begun = time.perf_counter()
                found = plan_general(replace(problem, aim=aim), seed=seed, stop=MaxSeconds(options.seconds))
                seconds.append(time.perf_counter() - begun)
                saved.append(100 * (1 - _value(found, aim) / _value(least_metres, aim)))
                proved += found.proved
                if found.gap_percent is not None:
                    gaps.append(found.gap_percent)
            rows.append(
                {
                    "taps": count,
                    "aim": str(aim),
                    "seeds": options.seeds,
                    "saved_percent_median": round(statistics.median(saved), 2),
                    "saved_percent_least": round(min(saved), 2),
                    "saved_percent_most": round(max(saved), 2),
                    "proved": proved,
                    "gap_percent_most": round(max(gaps), 3) if gaps else None,
                    "seconds_median": round(statistics.median(seconds), 1),
                }
            )
    print(json.dumps(rows, indent=1))


def _as_walked(problem: RoundProblem, order: Round) -> Round:
    """Return the round of another problem walked in just its order over this one's ground."""
    from standmap.rounds.by_hand import ByHand

    keys = [[visit.key for visit in trip.visits] for trip in order.trips]
    return ByHand(problem).walked(keys, None)


if __name__ == "__main__":
    main()
