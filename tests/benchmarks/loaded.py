"""How much better a walk is that heeds what is carried than the walk of least metres, in the same unit.

Invented woods, seeded: taps at random in 300 by 300 m with a gentle slope, two to four and a half litres each, 15 kg a
person with 1 kg of cans. Both walks are reckoned alike, with the load on every leg: minutes (at the stops too), or
kilograms times metres; trips of the shortest walk go round the way that is easier in that unit.
"""

from __future__ import annotations

import argparse
import json
import statistics
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from standmap.rounds.asked import ask
from standmap.rounds.carrying import Carrying
from standmap.rounds.general import plan_general
from standmap.rounds.ground import Ground
from standmap.rounds.heights import Heights
from standmap.rounds.problem import Aim, RoundProblem, Tap
from standmap.rounds.round import Round
from standmap.rounds.solve import plan
from standmap.rounds.stop import MaxSeconds
from standmap.rounds.walks import Walks


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


def main() -> None:
    """Run and print a JSON list."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--taps", type=int, nargs="+", default=[30, 60, 100])
    parser.add_argument("--aims", type=Aim, nargs="+", default=[Aim.TIME, Aim.EFFORT])
    parser.add_argument("--seeds", type=int, default=20)
    parser.add_argument("--seconds", type=float, default=10.0, help="for each of the two walks")
    parser.add_argument("--slope", type=float, default=0.08)
    parser.add_argument("--json", action="store_true", help="as always")
    options = parser.parse_args()
    stop = MaxSeconds(options.seconds)
    rows = []
    for count in options.taps:
        pairs: dict[Aim, list[Pair]] = {aim: [] for aim in options.aims}
        for seed in range(options.seeds):
            problem = wood(count, 20260328 + seed, slope=options.slope)
            shortest = plan(replace(problem, obstacles=Ground()), stop=stop)
            for aim, found in pairs.items():
                asked = replace(problem, aim=aim)
                begun = time.perf_counter()
                heeding = plan_general(asked, seed=seed, stop=stop)
                found.append(Pair(heeding, _as_walked(asked, shortest), time.perf_counter() - begun))
        rows += [_row(count, aim, found) for aim, found in pairs.items()]
    print(json.dumps(rows, indent=1))


@dataclass(frozen=True, slots=True)
class Pair:
    """A walk that heeds the load, what the walk of least metres comes to in its unit, and how long the first took."""

    heeding: Round
    shortest_cost: float
    seconds: float

    @property
    def saved_percent(self) -> float:
        """What heeding the load saves."""
        return 100 * (1 - self.heeding.cost / self.shortest_cost)


def _as_walked(problem: RoundProblem, shortest: Round) -> float:
    """Return what the trips of another round cost over this ground with the load, each in its easier direction."""
    asked = ask(problem)
    walks = Walks(asked)
    tap = {one.key: number for number, one in enumerate(asked.taps)}
    trips = [tuple(tap[visit.key] for visit in trip.visits) for trip in shortest.trips]
    return sum(min(walks.trip(stops), walks.trip(stops[::-1])) for stops in trips)


def _row(count: int, aim: Aim, pairs: Sequence[Pair]) -> dict[str, object]:
    saved = [pair.saved_percent for pair in pairs]
    gaps = [pair.heeding.gap_percent for pair in pairs if pair.heeding.gap_percent is not None]
    return {
        "taps": count,
        "aim": str(aim),
        "seeds": len(pairs),
        "saved_percent_median": round(statistics.median(saved), 2),
        "saved_percent_least": round(min(saved), 2),
        "saved_percent_most": round(max(saved), 2),
        "better_on": sum(one > 1e-6 for one in saved),
        "worse_on": sum(one < -1e-6 for one in saved),
        "proved": sum(pair.heeding.proved for pair in pairs),
        "bounded": len(gaps),
        "gap_percent_most": round(max(gaps), 3) if gaps else None,
        "seconds_median": round(statistics.median(pair.seconds for pair in pairs), 1),
    }


if __name__ == "__main__":
    main()
