"""How well the season is told on invented springs whose truth is known; JSON on stdout.

- cover: how often leaf-out lies between the early and the late day, by days before it and own years
- fit: what the fit recovers of a known factor, and its miss beside that of the mean day, each year from the others
- seconds: one answer with thirty years of weather
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from standmap.jobs.when import when
from standmap.season.fitting import DEFAULT_COUNTS_AS, OwnYear, mean_error_days, taught
from standmap.season.thermal import birch_models
from standmap.stand.ground import Place, PlaceKind
from standmap.stand.snapshot import Stand
from tests.season.springs import leaf_out_signs, rows_of, season_of_series, year_round

FIRST = date(1990, 1, 1)
WOOD = (Place("p", "tank", PlaceKind.TANK, (26.7, 58.4)),)
BEFORE_DAYS = (45, 30, 15, 5)
OWN_YEARS = (0, 3, 10)


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--woods", type=int, default=60)
    asked.add_argument("--seed", type=int, default=20261126)
    options = asked.parse_args()
    print(json.dumps({"seed": options.seed, "woods": options.woods, **measured(options.woods, options.seed)}, indent=1))


def measured(woods: int, seed: int) -> dict[str, object]:
    """Return all figures; the truth of each wood is one of the models, its factor and the noise of its days drawn."""
    rng = np.random.default_rng(seed)
    inside: dict[str, list[bool]] = {}
    width: dict[str, list[int]] = {}
    factors: dict[int, list[float]] = {n: [] for n in (3, 10, 25)}
    misses: list[tuple[float, float]] = []
    seconds: list[float] = []
    for number in range(woods):
        truth = replace(birch_models()[number % 3], factor=float(np.exp(rng.normal(0, 0.2))))
        noise = float(rng.uniform(0.5, 3.0))
        mean = float(rng.uniform(2.0, 9.0))
        series = year_round(FIRST, 366 * 34, seed=int(rng.integers(1 << 30)), mean_c=mean)
        signs = leaf_out_signs(FIRST, series, range(1992, 2022), truth, int(rng.integers(1 << 30)), noise)
        last = signs[-1].seen_on
        for own in OWN_YEARS:
            for before in BEFORE_DAYS:
                day = last - timedelta(days=before)
                known = tuple(signs[-1 - own : -1]) if own else ()
                stand = Stand(weather=rows_of(FIRST, series, until=day), signs=known, places=WOOD)
                begun = time.perf_counter()
                answer = when(stand, day)
                seconds.append(time.perf_counter() - begun)
                told = answer.models[number % 3].leaf_out
                if told is not None:
                    key = f"{own} own years, {before} days before"
                    inside.setdefault(key, []).append(told.early <= last <= told.late)
                    width.setdefault(key, []).append((told.late - told.early).days)
        years = []
        for sign in signs:
            begins, season = season_of_series(FIRST, series, sign.seen_on.year)
            years.append(OwnYear(begins, season, (sign.seen_on - begins).days))
        model = birch_models()[number % 3]
        for count in factors:
            fitted = taught(model, years[:count])
            full = np.log(fitted.model.factor) * (count + DEFAULT_COUNTS_AS) / count
            factors[count].append(float(full - np.log(truth.factor)))
        whole, plain = taught(model, years).error_days, mean_error_days(years)
        if whole is not None and plain is not None:
            misses.append((whole, plain))
    return {
        "cover_90": {key: round(float(np.mean(hits)), 3) for key, hits in inside.items()},
        "width_days": {key: round(float(np.mean(days)), 1) for key, days in width.items()},
        "log_factor_error": {
            str(n): {"bias": round(float(np.mean(e)), 3), "sd": round(float(np.std(e)), 3)} for n, e in factors.items()
        },
        "miss_days": {
            "fitted": round(float(np.mean([a for a, _ in misses])), 2),
            "mean_day": round(float(np.mean([b for _, b in misses])), 2),
            "fit_better": round(float(np.mean([a < b for a, b in misses])), 3),
        },
        "seconds": round(float(np.median(seconds)), 4),
    }


if __name__ == "__main__":
    main()
