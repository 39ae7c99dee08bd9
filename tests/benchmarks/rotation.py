"""How long a rotation takes, and how near to the best possible it is.

Stands are invented, seeded: girths drawn so that some stems come in by growth and some take two holes, a third tapped
in the last years, every stem with its own litres, blocks of about 25 trees, one owner's limit.
"""

from __future__ import annotations

import argparse
import json
import time

import numpy as np

from standmap.rotation.problem import RotationProblem, Stem, Want, faults, litres_of
from standmap.rotation.solve import rotate


def invented(trees: int, seasons: int, seed: int, *, own_litres: bool = True) -> RotationProblem:
    """Return an invented stand."""
    rng = np.random.default_rng(seed)
    girth = rng.normal(820, 180, trees)
    grows = rng.uniform(4, 12, trees)
    stems = []
    for k in range(trees):
        ahead = girth[k] + grows[k] * np.arange(seasons)
        holes = tuple(int(g >= 718) + int(g >= 1150) for g in ahead)
        litres = float(rng.lognormal(3.5, 0.35)) if own_litres else 33.0
        limits = (0,) if k % 4 == 0 else ()
        free = int(rng.integers(1, 4)) if rng.random() < 0.35 else 0
        stems.append(Stem(f"t{k}", f"r{k}", k // 25, holes, round(litres, 1), free, limits))
    limit = (max(1, trees // 30),) * seasons
    return RotationProblem(tuple(stems), seasons, 4, (limit,), want=Want.EVEN, block_cost_l=5.0)


def main() -> None:
    """Run and print a JSON list."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--trees", type=int, nargs="+", default=[400, 2000])
    parser.add_argument("--seasons", type=int, default=12)
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument("--gap", type=float, default=0.01)
    parser.add_argument("--seed", type=int, default=20260401)
    parser.add_argument("--json", action="store_true", help="as always")
    options = parser.parse_args()
    rows = []
    for trees in options.trees:
        for own in (True, False):
            problem = invented(trees, options.seasons, options.seed, own_litres=own)
            begun = time.perf_counter()
            found = rotate(problem, gap=options.gap, seconds=options.seconds)
            took = time.perf_counter() - begun
            litres = litres_of(problem, found.tapped)
            rows.append(
                {
                    "trees": trees,
                    "seasons": options.seasons,
                    "own_litres": own,
                    "seconds": round(took, 2),
                    "gap_percent": round(found.gap_percent, 3),
                    "proved": found.proved,
                    "leanest_l": round(min(litres), 1),
                    "total_l": round(sum(litres), 1),
                    "faults": len(faults(problem, found.tapped)),
                }
            )
    print(json.dumps(rows, indent=1))


if __name__ == "__main__":
    main()
