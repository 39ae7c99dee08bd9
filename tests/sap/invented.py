"""Invented stands whose true effects are known: what the model is held against."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from standmap.sap.records import SapRecords
from standmap.stand.records import Weather
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Collection, TapHole, Wound
from standmap.stand.tree import Measurement, Tree

Floats = NDArray[np.float64]

FIRST_YEAR = 2016


@dataclass(frozen=True, slots=True)
class Truth:
    """How an invented stand's runs come about; standard deviations are of logarithms.

    Attributes
    ----------
    lasting
        How much of a night's effect the next night has too, and how much of its warmth.
    wild
        Degrees of freedom of Student's t for what is left, in place of the normal distribution of the model.
    """

    median_ml: float = 2200.0
    girth: float = 0.9
    warmth: float = 0.15
    year: float = 0.25
    day: float = 0.4
    tree: float = 0.3
    rest: float = 0.25
    lasting: float = 0.0
    wild: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Invented:
    """Runs in millilitres, shape (nights, trees), and what made them; a night has its season's number."""

    days: tuple[date, ...]
    season: NDArray[np.int64]
    warmth_c: Floats
    girth_mm: Floats
    year: Floats
    day: Floats
    tree: Floats
    run_ml: Floats


def invented(truth: Truth, trees: int, seasons: int, nights: int, seed: int) -> Invented:
    """Return so many nights in each of so many seasons of a stand."""
    rng = np.random.default_rng(seed)
    season = np.repeat(np.arange(seasons), nights)
    days = tuple(date(FIRST_YEAR + s, 3, 25) + timedelta(n) for s in range(seasons) for n in range(nights))
    warmth = (6.5 + 2.0 * _lasting(rng.normal(size=(seasons, nights)), truth.lasting).ravel()).clip(-2, 10)
    girth = rng.normal(900, 150, trees).clip(600)
    year = rng.normal(0, truth.year, seasons)
    day = truth.day * _lasting(rng.normal(size=(seasons, nights)), truth.lasting).ravel()
    tree = rng.normal(0, truth.tree, trees)
    shared = np.log(truth.median_ml) + truth.warmth * (warmth - 6) + year[season] + day
    own = truth.girth * np.log(girth / 785) + tree
    shape = (len(days), trees)
    rest = rng.normal(size=shape)
    if truth.wild is not None:
        rest = rng.standard_t(truth.wild, shape) * np.sqrt((truth.wild - 2) / truth.wild)
    run = np.exp(shared[:, None] + own[None] + truth.rest * rest)
    return Invented(days, season, warmth, girth, year, day, tree, run)


def _lasting(steps: Floats, part: float) -> Floats:
    """Return standard normal draws, shape (seasons, nights), of which each takes a part from the one before it."""
    found = steps.copy()
    for night in range(1, found.shape[1]):
        found[:, night] = part * found[:, night - 1] + np.sqrt(1 - part**2) * steps[:, night]
    return found


def records(
    made: Invented, *, every: int = 1, vessel_ml: float | None = None, total_of: int = 1, known_warmth: bool = True
) -> SapRecords:
    """Return an invented stand's records.

    Parameters
    ----------
    every
        Nights between two collections.
    vessel_ml
        What a vessel holds for each of these nights, if it may run over.
    total_of
        Trees whose sap is measured together.
    """
    nights, trees = made.run_ml.shape
    rows: list[tuple[list[int], list[int]]] = []
    for season in range(int(made.season.max()) + 1):
        mine = np.flatnonzero(made.season == season)
        for begin in range(0, len(mine) - every + 1, every):
            group = mine[begin : begin + every].tolist()
            for first in range(0, trees, total_of):
                some = range(first, min(first + total_of, trees))
                rows.append(([n for n in group for _ in some], [t for _ in group for t in some]))
    volume = np.array([made.run_ml[n, t].sum() for n, t in rows])
    most = np.array([np.inf if vessel_ml is None else vessel_ml * len(n) for n, _ in rows])
    part_tree = np.concatenate([t for _, t in rows]).astype(np.int64)
    return SapRecords(
        tuple(f"t{k:05d}" for k in range(trees)),
        made.days,
        made.warmth_c if known_warmth else np.full(nights, np.nan),
        np.minimum(volume, most),
        volume > most,
        np.repeat(np.arange(len(rows)), [len(n) for n, _ in rows]),
        part_tree,
        np.concatenate([n for n, _ in rows]).astype(np.int64),
        made.girth_mm[part_tree],
    )


def as_stand(made: Invented) -> Stand:
    """Return the same as a stand, each night of each tree collected by itself, under weather that gives its warmth."""
    trees = tuple(Tree(f"t{k:05d}", f"B{k}", (27.0, 62.0)) for k in range(len(made.tree)))
    girths = tuple(
        Measurement(f"m{tree.key}", tree.key, None, float(girth), None, "", "mm")
        for tree, girth in zip(trees, made.girth_mm, strict=True)
    )
    holes, taken = [], []
    for season in range(len(made.year)):
        nights = np.flatnonzero(made.season == season)
        begun = made.days[nights[0]] - timedelta(1)
        for k, tree in enumerate(trees):
            hole = TapHole(f"h{season}.{k}", tree.key, 1, Wound.HOLE, begun)
            holes.append(hole)
            taken += [
                Collection(f"c{n}.{k}", hole.key, made.days[n], None, float(made.run_ml[n, k]), "", "ml")
                for n in nights
            ]
    return Stand(trees=trees, measurements=girths, holes=tuple(holes), collections=tuple(taken))


def a_day(day: date, mean_c: float, station: str = "") -> Weather:
    """Return a day's weather of which only the mean is known."""
    return Weather(f"w{day}{station}", day, None, mean_c, None, station=station)
