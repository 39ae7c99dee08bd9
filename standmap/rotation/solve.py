"""The best rotation as a mixed-integer program over HiGHS, with a proof or a gap."""

from __future__ import annotations

import math
import time
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from standmap.progress import Progress, Unwatched
from standmap.rotation.alike import Group, groups_of, shared_out
from standmap.rotation.problem import LEANEST_WEIGHT, Rotation, RotationProblem, Want, worth
from standmap.rotation.without import in_turns

if TYPE_CHECKING:
    import highspy

PROVED_GAP = 1e-4
"""A rotation this near to the bound counts as the best."""

MANY_ROWS = 10_000
"""From so many rows on the linear program at the root goes faster by interior points than by the simplex: measured."""

NO_NUMBER = 1e30
"""What is as large as this was not found yet."""

FloatArray = NDArray[np.float64]


def rotate(
    problem: RotationProblem,
    *,
    gap: float = PROVED_GAP,
    seconds: float = math.inf,
    seed: int = 0,
    progress: Progress | None = None,
) -> Rotation:
    """Find the rotation of most worth, see `problem.worth`.

    Parameters
    ----------
    gap
        The search ends when the best possible is no more than this part above what was found.
    seconds
        It ends after so long in any case, with the best so far.
    progress
        Told the gap; a wish to stop ends the search with the best so far.

    Notes
    -----
    Stems that are alike are counted together (`alike.groups_of`). For each group and season one whole number says how
    many are tapped; in any `rest` seasons in a row no more than there are. Going to a block is a yes or no that bounds
    every group in it. The best whole answer so far is always a sound rotation: at first one made by taking turns.
    """
    watch = progress or Unwatched()
    groups = groups_of(problem)
    nothing = tuple(() for _ in range(problem.seasons))
    if not groups:
        return Rotation(nothing, worth(problem, nothing), worth(problem, nothing), proved=True, stopped=False)
    begun_with = in_turns(problem)
    model = _Model(problem, groups)
    answer = model.solve(worth(problem, begun_with), gap, seconds, seed, watch)
    counts = [np.rint(answer.x[model.taps[g]]).astype(int) for g in range(len(groups))] if len(answer.x) else []
    by_season: list[list[str]] = [[] for _ in range(problem.seasons)]
    for group, count in zip(groups, counts, strict=False):
        for season, keys in enumerate(shared_out(group, tuple(count.tolist()), problem.rest)):
            by_season[season].extend(keys)
    place = {stem.key: n for n, stem in enumerate(problem.stems)}
    solved = tuple(tuple(sorted(keys, key=place.__getitem__)) for keys in by_season)
    tapped = max((solved, begun_with), key=lambda one: worth(problem, one))
    found = worth(problem, tapped)
    bound = max(found, answer.bound)
    proved = bound - found <= PROVED_GAP * max(1.0, abs(bound))
    return Rotation(tapped, found, bound, proved=proved, stopped=not proved and not answer.within)


@dataclass(frozen=True, slots=True)
class _Answer:
    x: FloatArray
    bound: float
    within: bool


class _Model:
    """Columns and rows of the program.

    Attributes
    ----------
    taps
        For each group the columns that say how many of it are tapped in each season.
    """

    def __init__(self, problem: RotationProblem, groups: tuple[Group, ...]) -> None:
        self._problem, self._groups = problem, groups
        self._counting = frozenset(problem.counting)
        seasons = problem.seasons
        self.taps = [np.arange(g * seasons, (g + 1) * seasons) for g in range(len(groups))]
        self._blocks = {block: n for n, block in enumerate(sorted({group.one.block for group in groups}))}
        first = len(groups) * seasons
        with_blocks = problem.block_cost_l > 0
        self._open = first if with_blocks else -1
        first += len(self._blocks) * seasons if with_blocks else 0
        self._useful, self._leanest = first, first + seasons
        self._count = first + seasons + 1
        self._rows: list[tuple[list[int], list[float], float]] = []
        """Columns, coefficients and the most of their sum."""

    def solve(self, known: float, gap: float, seconds: float, seed: int, watch: Progress) -> _Answer:
        """Return the best answer found, with what no rotation is worth more than; one of worth `known` is there."""
        import highspy

        plain = self._plain_bound()
        watch.at(0, 100 if math.isfinite(seconds) else 0, _told(plain, known))
        if watch.stop_wanted():
            return _Answer(np.zeros(0), plain, within=False)
        cost, upper, whole = self._columns()
        self._rows = [*self._rests(), *self._limits(), *self._openings(), *self._seasons()]
        program = highspy.HighsLp()
        program.num_col_, program.num_row_ = self._count, len(self._rows)
        program.sense_ = highspy.ObjSense.kMaximize
        program.col_cost_, program.col_lower_, program.col_upper_ = cost, np.zeros(self._count), upper
        program.row_lower_ = np.full(len(self._rows), -highspy.kHighsInf)
        program.row_upper_ = np.array([most for _, _, most in self._rows])
        program.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        program.a_matrix_.start_ = np.cumsum([0, *(len(columns) for columns, _, _ in self._rows)])
        program.a_matrix_.index_ = np.concatenate([columns for columns, _, _ in self._rows])
        program.a_matrix_.value_ = np.concatenate([values for _, values, _ in self._rows])
        kinds = (highspy.HighsVarType.kContinuous, highspy.HighsVarType.kInteger)
        program.integrality_ = [kinds[int(one)] for one in whole]
        highs = _quiet(seed, gap, seconds)
        if len(self._rows) > MANY_ROWS:
            highs.setOptionValue("mip_lp_solver", "ipm")
        stopped = _watched(highs, watch, seconds, plain, known)
        highs.passModel(program)
        highs.run()
        info, status = highs.getInfo(), highs.getModelStatus()
        if info.primal_solution_status != highspy.kSolutionStatusFeasible:
            return _Answer(np.zeros(0), plain, within=False)
        x = np.array(highs.getSolution().col_value)
        bound = min(info.mip_dual_bound, plain) if math.isfinite(info.mip_dual_bound) else plain
        return _Answer(x, bound, within=status == highspy.HighsModelStatus.kOptimal and not stopped())

    def _columns(self) -> tuple[FloatArray, FloatArray, NDArray[np.bool_]]:
        problem, seasons = self._problem, self._problem.seasons
        cost, upper = np.zeros(self._count), np.ones(self._count)
        whole = np.zeros(self._count, dtype=bool)
        whole[: self._useful] = True
        for group, taps in zip(self._groups, self.taps, strict=True):
            may = np.array([group.one.may(season) for season in range(seasons)])
            upper[taps] = np.where(may, len(group.stems), 0)
            cost[taps] = -problem.hole_cost_l * np.array(group.one.holes)
        if self._open >= 0:
            cost[self._open : self._useful] = -problem.block_cost_l
        even = problem.want is Want.EVEN
        share = 1 / (1 + LEANEST_WEIGHT) if even else 1.0
        cost[self._useful : self._leanest] = share
        cost[self._leanest] = (1 - share) * len(self._counting)
        most = math.inf if problem.wanted_l is None else problem.wanted_l
        upper[self._useful :] = most
        return cost, upper, whole

    def _rests(self) -> Iterator[tuple[list[int], list[float], float]]:
        """No more of a root, or of a group of roots, in any `rest` seasons than there are."""
        problem = self._problem
        together: dict[object, list[int]] = {}
        for g, group in enumerate(self._groups):
            together.setdefault(("root", group.root) if group.root is not None else g, []).append(g)
        last = max(1, problem.seasons - problem.rest + 1)
        for members in together.values():
            most = 1 if self._groups[members[0]].root is not None else len(self._groups[members[0]].stems)
            for begin in range(last):
                columns = [int(c) for g in members for c in self.taps[g][begin : begin + problem.rest]]
                yield columns, [1.0] * len(columns), float(most)

    def _limits(self) -> Iterator[tuple[list[int], list[float], float]]:
        for number, limit in enumerate(self._problem.limits):
            members = [g for g, group in enumerate(self._groups) if number in group.one.limits]
            for season, most in enumerate(limit):
                if most is not None and members:
                    yield [int(self.taps[g][season]) for g in members], [1.0] * len(members), float(most)

    def _openings(self) -> Iterator[tuple[list[int], list[float], float]]:
        if self._open < 0:
            return
        for group, taps in zip(self._groups, self.taps, strict=True):
            first = self._open + self._blocks[group.one.block] * self._problem.seasons
            for season in range(self._problem.seasons):
                if group.one.may(season):
                    yield [int(taps[season]), first + season], [1.0, -float(len(group.stems))], 0.0

    def _seasons(self) -> Iterator[tuple[list[int], list[float], float]]:
        """Bind what is useful of a season to what it gives, and the leanest to every one."""
        for season in range(self._problem.seasons):
            giving = [g for g, group in enumerate(self._groups) if group.one.may(season)]
            columns = [self._useful + season, *(int(self.taps[g][season]) for g in giving)]
            yield columns, [1.0, *(-self._groups[g].one.litres(season) for g in giving)], 0.0
            if season in self._counting:
                yield [self._leanest, self._useful + season], [1.0, -1.0], 0.0

    def _plain_bound(self) -> float:
        """Return what no rotation is worth more than.

        Less of what all that may be tapped gives, season by season, and of what each stem gives in its best seasons.
        """
        problem = self._problem
        gives = np.array(
            [
                [len(g.stems) * g.one.litres(s) if g.one.may(s) else 0.0 for s in range(problem.seasons)]
                for g in self._groups
            ]
        )
        by_season = np.minimum(gives.sum(axis=0), math.inf if problem.wanted_l is None else problem.wanted_l)
        times = math.ceil(problem.seasons / problem.rest)
        by_stem = np.sort(gives, axis=1)[:, -times:]
        return float(min(by_season.sum(), by_stem.sum()))


def _quiet(seed: int, gap: float, seconds: float) -> highspy.Highs:
    import highspy

    class Quiet(highspy.Highs):
        def enableCallbacks(self) -> None:  # noqa: N802 - the library's name
            # Called while being made: without this the library prints its banner.
            self.silent()
            super().enableCallbacks()  # type: ignore[no-untyped-call]

    highs = Quiet()  # type: ignore[no-untyped-call]
    for option, value in (("threads", 1), ("random_seed", seed % 2**31), ("mip_rel_gap", gap)):
        highs.setOptionValue(option, value)
    if math.isfinite(seconds):
        highs.setOptionValue("time_limit", seconds)
    return highs


def _told(bound: float, best: float) -> str:
    """Return what is done, with how far the best so far may be below the best possible."""
    percent = 100 * (bound - best) / bound if bound > 0 else 0.0
    return f"choosing the trees of each season: at most {percent:.1f} % below the best"


def _watched(highs: highspy.Highs, watch: Progress, seconds: float, plain: float, known: float) -> _Stopped:
    stopped = _Stopped()
    begun = time.monotonic()

    def look_up(event: highspy.HighsCallbackEvent) -> None:
        bound, best = event.data_out.mip_dual_bound, event.data_out.mip_primal_bound
        there = math.isfinite(best) and abs(best) < NO_NUMBER
        told = _told(bound if 0 < bound < plain else plain, max(best, known) if there else known)
        done = 0 if math.isinf(seconds) else min(100, round(100 * (time.monotonic() - begun) / seconds))
        watch.at(done, 0 if math.isinf(seconds) else 100, told)
        if watch.stop_wanted():
            stopped.now = True
            event.interrupt()

    highs.cbMipInterrupt += look_up
    highs.cbSimplexInterrupt += look_up
    highs.cbIpmInterrupt += look_up
    return stopped


class _Stopped:
    """Whether a person wanted to stop."""

    now = False

    def __call__(self) -> bool:
        return self.now
