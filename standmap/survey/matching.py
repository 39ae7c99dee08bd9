"""Which known tree each new position belongs to: all of them together, never one after another.

A pair is a candidate where its Mahalanobis distance by both covariances lies within a gate. Its score is a log
likelihood ratio: that the two are one tree, against a tree that is not known yet. The shift that all positions of a
walk share is estimated first, by expectation and maximisation from several starts (Dempster, Laird and Rubin 1977;
from memory). Candidates fall into components that have nothing to do with each other; in each the best one-to-one
assignment is found (Kuhn 1955; SciPy's implementation), and how likely each pair is by loopy belief propagation
(Williams and Lau 2014; from memory), so that a person is asked where it is not sure. A walk may come back to a tree:
that is held to be rare, not impossible.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from standmap.stand.names import folded
from standmap.stand.walks import FloatArray

if TYPE_CHECKING:
    from scipy.sparse import csr_matrix

IntArray = NDArray[np.int64]

GATE = -2 * math.log(0.001)
"""Squared Mahalanobis distance that one pair in a thousand of the same tree exceeds (chi-square of 2)."""

SURE = 0.99
"""A match, or a tree held to be new, that is less likely than this is asked about: an assumption."""

NEW_PART = 0.1
"""New trees are held to stand this much as densely as known ones do about a new position: an assumption."""

LEAST_DENSITY = 1e-4
"""Trees a square metre that are held to be possible anywhere: one in a hectare of a sparse wood (an assumption)."""

GIRTH_PART, GIRTH_MM = 0.03, 25.0
"""Standard deviation of the difference of two girths of one tree: a part of it, and growth of some years
(assumptions)."""

RIGHT_TAG = 0.97
"""How often a noted name is that of the tree: else it was misread or mistyped (an assumption)."""

RETURN = 0.1
"""How often a tree that was stopped at is stopped at again on the same walk, against a first stop: an assumption."""

_CORE_M = (0.5, 10.0)

_LEAST_CHANCE = 1e-4
"""Less likely trees are not told."""

_ENOUGH = 300
"""So many new positions tell the shift well enough."""

_REACH_SIGMAS, _STEP_M, _MOST_STEPS = 3.5, 0.75, 41
_MOST_SHIFTS, _FAR_BEHIND, _ONE_HILL_M = 8, 12.0, 0.5
_ROUNDS, _PASSES = 200, 200
_SMALL = 60


@dataclass(frozen=True, slots=True, eq=False)
class Positions:
    """Positions with what is known of their trees: columns of one length n.

    Attributes
    ----------
    xy
        Metres in the working frame, shape (n, 2).
    covariance
        var_e, var_n, cov_en in square metres, shape (n, 3).
    girth_mm
        NaN where unknown, shape (n,).
    names
        None where none was noted.
    """

    xy: FloatArray
    covariance: FloatArray
    girth_mm: FloatArray
    names: Sequence[str | None]

    def __len__(self) -> int:
        """Return how many there are."""
        return len(self.xy)


@dataclass(frozen=True, slots=True)
class Candidate:
    """A known tree that a new position may belong to.

    Attributes
    ----------
    known
        Its number.
    away_m
        How far it is from the new position, the shift of the walk taken off.
    chance
        From 0 to 1.
    """

    known: int
    away_m: float
    chance: float


@dataclass(frozen=True, slots=True)
class Match:
    """What one new position belongs to.

    Attributes
    ----------
    known
        Number of its tree; None where it is of a tree that is not known.
    chance
        Of just this, from 0 to 1.
    candidates
        All trees that it may belong to, the likeliest first.
    """

    known: int | None
    chance: float
    candidates: tuple[Candidate, ...]

    @property
    def sure(self) -> bool:
        """Whether nobody need be asked."""
        return self.chance >= SURE


@dataclass(frozen=True, slots=True)
class Matches:
    """What came of all new positions together.

    Attributes
    ----------
    shift
        Metres east and north by which all of them lie off.
    shift_m2
        Variance of an axis of that, square metres.
    """

    matches: tuple[Match, ...]
    shift: tuple[float, float]
    shift_m2: float


@dataclass(frozen=True, slots=True, eq=False)
class _Shift:
    """A shift that all new positions may share, the variance of an axis of it, and how likely it is."""

    xy: FloatArray
    variance_m2: float
    weight: float


@dataclass(frozen=True, slots=True, eq=False)
class _Pairs:
    """Candidate pairs: numbers of the new and the known one, how far apart, and the summed covariance without shift."""

    new: IntArray
    known: IntArray
    off: FloatArray
    spread: FloatArray

    def of(self, kept: NDArray[np.bool_]) -> _Pairs:
        return _Pairs(self.new[kept], self.known[kept], self.off[kept], self.spread[kept])


def match(new: Positions, known: Positions, shared_m2: float = 0.0) -> Matches:
    """Return which known tree each new position belongs to.

    Parameters
    ----------
    new
        Of one walk; their covariances without what the whole walk shares.
    known
        Trees of the stand.
    shared_m2
        Variance of an axis of the error that all new positions share, square metres; 0 where they share none.
    """
    nothing = Matches(tuple(Match(None, 1.0, ()) for _ in range(len(new))), (0.0, 0.0), shared_m2)
    if not len(new) or not len(known):
        return nothing
    pairs = _gated(new, known, shared_m2)
    if not len(pairs.new):
        return nothing
    density = np.maximum(NEW_PART * _density(new, known), LEAST_DENSITY) * _room(pairs, len(new), known, shared_m2)
    evidence = _girth_evidence(new, known, pairs) + _tag_evidence(new, known, pairs) - np.log(density[pairs.new])
    shifts = _shifts(pairs, evidence, len(new), shared_m2)
    chance, chance_new = np.zeros(len(pairs.new)), np.zeros(len(new))
    for one in shifts:
        each, none = _chances(pairs, _score(pairs, evidence, one), len(new), len(known))
        chance, chance_new = chance + one.weight * each, chance_new + one.weight * none
    best = max(shifts, key=lambda s: s.weight)
    chosen = _best_with_returns(pairs, _score(pairs, evidence, best), len(new), len(known))
    away = np.hypot(*(pairs.off - best.xy).T)
    return Matches(
        tuple(_told(i, rows, pairs, chance, chance_new, chosen, away) for i, rows in _by_new(pairs, len(new))),
        (float(best.xy[0]), float(best.xy[1])),
        best.variance_m2,
    )


def _score(pairs: _Pairs, evidence: FloatArray, shift: _Shift) -> FloatArray:
    """Return the log likelihood ratio of each pair; what is not known of the shift stays with every pair."""
    spread = pairs.spread + np.array([shift.variance_m2, shift.variance_m2, 0.0])
    square, log_root = _mahalanobis(pairs.off - shift.xy, spread)
    score = evidence - square / 2 - log_root - math.log(2 * math.pi)
    return np.where(square <= GATE, score, -np.inf)


def _gated(new: Positions, known: Positions, shared_m2: float) -> _Pairs:
    from scipy.spatial import cKDTree

    wide = math.sqrt(GATE)
    own = np.sqrt(_largest(new.covariance))
    theirs = np.sqrt(_largest(known.covariance))
    # A few badly known trees must not widen the search for all.
    usual = float(np.quantile(theirs, 0.95))
    found: list[tuple[IntArray, IntArray]] = []
    for members, most in ((theirs <= usual, usual), (theirs > usual, float(theirs.max()))):
        numbers = np.flatnonzero(members)
        if not len(numbers):
            continue
        reach = wide * np.sqrt(own**2 + most**2 + shared_m2)
        hits = cKDTree(known.xy[numbers]).query_ball_point(new.xy, reach)
        counts = np.array([len(h) for h in hits], dtype=np.int64)
        flat = np.array([k for h in hits for k in h], dtype=np.int64)
        found.append((np.repeat(np.arange(len(new)), counts), numbers[flat]))
    i, j = np.concatenate([a for a, _ in found]), np.concatenate([b for _, b in found])
    order = np.lexsort((j, i))
    i, j = i[order], j[order]
    pairs = _Pairs(i, j, new.xy[i] - known.xy[j], new.covariance[i] + known.covariance[j])
    square, _ = _mahalanobis(pairs.off, pairs.spread + np.array([shared_m2, shared_m2, 0.0]))
    return pairs.of(square <= GATE)


def _largest(covariance: FloatArray) -> FloatArray:
    """Return the larger variance of the axes of each ellipse."""
    e, n, en = covariance.T
    return np.asarray((e + n) / 2 + np.hypot((e - n) / 2, en))


def _mahalanobis(off: FloatArray, spread: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return squared distances, and half the logarithm of the determinants."""
    e, n, en = spread.T
    determinant = np.maximum(e * n - en**2, 1e-12)
    square = (n * off[:, 0] ** 2 - 2 * en * off[:, 0] * off[:, 1] + e * off[:, 1] ** 2) / determinant
    return np.asarray(square), np.asarray(np.log(determinant) / 2)


def _density(new: Positions, known: Positions) -> FloatArray:
    """Return how many known trees stand about each new position, a square metre: by the distance to the seventh."""
    from scipy.spatial import cKDTree

    count = min(7, len(known))
    apart = np.asarray(cKDTree(known.xy).query(new.xy, k=[count])[0])[:, 0]
    # One of them may be the tree itself.
    return np.asarray((count - 1) / (math.pi * np.maximum(apart, 1.0) ** 2))


def _room(pairs: _Pairs, count: int, known: Positions, shared_m2: float) -> FloatArray:
    """Return how much room there is for one more tree about each new position, from 0 to 1.

    Trees keep a distance: one that is not known hardly stands beside one that is. The room about a known tree is
    1 - exp(-r² / 2s²), s the distance to the nearest neighbour that one known tree in twenty falls short of, averaged
    over where the new position may truly be (worked out here for round errors).
    """
    from scipy.spatial import cKDTree

    if len(known) < 2:
        return np.ones(count)
    nearest = np.asarray(cKDTree(known.xy).query(known.xy, k=[2])[0])[:, 0]
    core2 = float(np.clip(np.quantile(nearest, 0.05), *_CORE_M)) ** 2
    wide2 = core2 + (pairs.spread[:, 0] + pairs.spread[:, 1]) / 2 + shared_m2
    taken = core2 / wide2 * np.exp(-(pairs.off**2).sum(axis=1) / (2 * wide2))
    return np.exp(np.bincount(pairs.new, weights=np.log1p(-np.minimum(taken, 0.999)), minlength=count))


def _girth_evidence(new: Positions, known: Positions, pairs: _Pairs) -> FloatArray:
    a, b = new.girth_mm[pairs.new], known.girth_mm[pairs.known]
    both = np.isfinite(a) & np.isfinite(b)
    found = np.zeros(len(a))
    if not both.any():
        return found
    all_mm = known.girth_mm[np.isfinite(known.girth_mm)]
    middle, usual = float(np.median(all_mm)), max(float(all_mm.std()), 100.0)
    sigma = np.hypot(GIRTH_PART * b[both], GIRTH_MM)
    same = -(((a - b)[both] / sigma) ** 2) / 2 - np.log(sigma)
    other = -(((a[both] - middle) / usual) ** 2) / 2 - math.log(usual)
    # A blunder in one girth must not outweigh the place.
    found[both] = np.clip(same - other, -6.0, 6.0)
    return found


def _tag_evidence(new: Positions, known: Positions, pairs: _Pairs) -> FloatArray:
    names: dict[str, int] = {}
    first = np.array([-1 if n is None else names.setdefault(folded(n), len(names)) for n in new.names], dtype=np.int64)
    second = np.array([-2 if n is None else names.get(folded(n), -3) for n in known.names], dtype=np.int64)
    a, b = first[pairs.new], second[pairs.known]
    same = math.log(RIGHT_TAG * max(len(known), 2))
    return np.where(a < 0, 0.0, np.where(a == b, same, math.log(1 - RIGHT_TAG)))


def _shifts(pairs: _Pairs, evidence: FloatArray, count: int, shared_m2: float) -> list[_Shift]:
    """Return the shifts that all new positions may share, each with its weight.

    In a wood planted in rows, or a dense one, more than one may fit: then none is taken for the only one.
    """
    if shared_m2 <= 0:
        return [_Shift(np.zeros(2), 0.0, 1.0)]
    if count > _ENOUGH:
        some = pairs.new % -(-count // _ENOUGH) == 0
        pairs, evidence = pairs.of(some), evidence[some]
    sigma = math.sqrt(shared_m2)
    steps = min(2 * math.ceil(_REACH_SIGMAS * sigma / _STEP_M) + 1, _MOST_STEPS)
    line = np.linspace(-_REACH_SIGMAS * sigma, _REACH_SIGMAS * sigma, steps)
    table = np.array([[_likely(pairs, evidence, count, shared_m2, np.array([x, y])) for x in line] for y in line])
    padded = np.pad(table, 1, constant_values=-np.inf)
    about = [padded[1 + i : steps + 1 + i, 1 + j : steps + 1 + j] for i in (-1, 0, 1) for j in (-1, 0, 1) if i or j]
    rows, columns = np.nonzero((table >= np.max(about, axis=0)) & (table > table.max() - _FAR_BEHIND))
    ordered = sorted(zip(rows.tolist(), columns.tolist(), strict=True), key=lambda at: -float(table[at]))
    climbed: list[tuple[FloatArray, float, float]] = []
    for y, x in ordered[:_MOST_SHIFTS]:
        one = _climbed(pairs, evidence, count, shared_m2, np.array([line[x], line[y]]))
        if all(math.dist(one[0], other[0]) > _ONE_HILL_M for other in climbed):
            climbed.append(one)
    top = max(one[2] for one in climbed)
    weights = [math.exp(one[2] - top) for one in climbed]
    kept = [(one, w / sum(weights)) for one, w in zip(climbed, weights, strict=True) if w / sum(weights) > 1e-3]
    total = sum(w for _, w in kept)
    return [_Shift(one[0], one[1], w / total) for one, w in kept]


def _mixed(pairs: _Pairs, evidence: FloatArray, count: int, shift: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the likelihood ratio of each pair, and of each new position the sum over its pairs and "new"."""
    square, log_root = _mahalanobis(pairs.off - shift, pairs.spread)
    ratio = np.exp(np.minimum(evidence - square / 2 - log_root - math.log(2 * math.pi), 700.0))
    return np.asarray(ratio), np.asarray(1 + np.bincount(pairs.new, weights=ratio, minlength=count), dtype=float)


def _likely(pairs: _Pairs, evidence: FloatArray, count: int, shared_m2: float, shift: FloatArray) -> float:
    """Return the log of how likely a shift is, but for a constant."""
    _, total = _mixed(pairs, evidence, count, shift)
    return float(np.log(total).sum() - (shift @ shift) / (2 * shared_m2))


def _climbed(
    pairs: _Pairs, evidence: FloatArray, count: int, shared_m2: float, shift: FloatArray
) -> tuple[FloatArray, float, float]:
    """Return the likeliest shift near a start, the variance of an axis of it, and the log of the weight of its hill."""
    e, n, en = pairs.spread.T
    inverse = np.stack([n, e, -en]) / np.maximum(e * n - en**2, 1e-12)
    matrix = np.eye(2)
    for _ in range(_ROUNDS):
        ratio, total = _mixed(pairs, evidence, count, shift)
        weight = ratio / total[pairs.new]
        a, b, c = (weight * inverse).sum(axis=1)
        x = float((weight * (inverse[0] * pairs.off[:, 0] + inverse[2] * pairs.off[:, 1])).sum())
        y = float((weight * (inverse[2] * pairs.off[:, 0] + inverse[1] * pairs.off[:, 1])).sum())
        matrix = np.array([[a + 1 / shared_m2, c], [c, b + 1 / shared_m2]])
        fresh = np.linalg.solve(matrix, np.array([x, y]))
        moved = math.dist(fresh, shift)
        shift = fresh
        if moved < 1e-4:
            break
    narrow = float(np.linalg.eigvalsh(matrix)[0])
    log_hill = _likely(pairs, evidence, count, shared_m2, shift) - math.log(np.linalg.det(matrix)) / 2
    return shift, 1 / narrow, log_hill


def _chances(pairs: _Pairs, score: FloatArray, new: int, known: int) -> tuple[FloatArray, FloatArray]:
    """Return how likely each pair is, and how likely each new position is of a tree that is not known."""
    ratio = np.exp(np.minimum(score, 60.0))
    back = np.ones(len(ratio))
    there = ratio
    for _ in range(_PASSES):
        weighed = ratio * back
        total = 1 + np.bincount(pairs.new, weights=weighed, minlength=new)
        there = ratio / np.maximum(total[pairs.new] - weighed, 1e-300)
        # Of all ways in which the others may have stopped there, the first counts in full, each more by RETURN.
        more = np.log1p(RETURN * np.minimum(there, 1e100))
        others = np.minimum(np.bincount(pairs.known, weights=more, minlength=known)[pairs.known] - more, 600.0)
        fresh = 1 / (np.exp(-others) - np.expm1(-others) / RETURN)
        change = float(np.abs(fresh - back).max(initial=0.0))
        back = fresh
        if change < 1e-6:
            break
    weighed = ratio * back
    total = 1 + np.bincount(pairs.new, weights=weighed, minlength=new)
    return np.asarray(weighed / total[pairs.new]), np.asarray(1 / total)


def _best_with_returns(pairs: _Pairs, score: FloatArray, new: int, known: int) -> IntArray:
    """Return the best assignment in which a tree may be stopped at once more."""
    several = np.bincount(pairs.known[np.isfinite(score)], minlength=known)[pairs.known] > 1
    chosen = best_pairs(
        np.concatenate([pairs.new, pairs.new[several]]),
        np.concatenate([pairs.known, pairs.known[several] + known]),
        np.concatenate([score, score[several] + math.log(RETURN)]),
        new,
        2 * known,
    )
    return np.where(chosen >= 0, chosen % known, -1)


def best_pairs(new: IntArray, known: IntArray, score: FloatArray, new_count: int, known_count: int) -> IntArray:
    """Return for each new position the known tree of the best one-to-one assignment as a whole, -1 for none.

    Parameters
    ----------
    new, known, score
        The pairs that may be, with a log likelihood ratio each, shape (pairs,); no pair twice.

    Returns
    -------
    ndarray
        Shape (new_count,).
    """
    from scipy.sparse import csr_matrix
    from scipy.sparse.csgraph import connected_components

    chosen = np.full(new_count, -1, dtype=np.int64)
    # A pair that is less likely than "neither" is never part of the best.
    kept = score > 0
    new, known, score = new[kept], known[kept], score[kept]
    everything = new_count + known_count
    graph = csr_matrix((np.ones(len(score)), (new, known + new_count)), shape=(everything, everything))
    _, group = connected_components(graph, directed=False)
    order = np.argsort(group[new], kind="stable")
    components = np.split(order, np.flatnonzero(np.diff(group[new][order])) + 1) if len(order) else []
    for rows in components:
        i, j = _best_of(new[rows], known[rows], score[rows])
        chosen[i] = j
    return chosen


def _best_of(new: IntArray, known: IntArray, gain: FloatArray) -> tuple[IntArray, IntArray]:
    """Return the pairs of the best assignment of one component."""
    from scipy.optimize import linear_sum_assignment
    from scipy.sparse.csgraph import min_weight_full_bipartite_matching

    i, row = np.unique(new, return_inverse=True)
    j, column = np.unique(known, return_inverse=True)
    if len(i) * (len(j) + len(i)) <= _SMALL**2:
        cost = np.zeros((len(i), len(j)))
        cost[row, column] = -gain
        one, other = linear_sum_assignment(cost)
        gained = cost[one, other] < 0
        return i[one[gained]], j[other[gained]]
    # Beside each new position stands a column of its own that means "none"; weights must not be 0.
    costs = _with_none(row, column, gain, len(i), len(j))
    first, second = min_weight_full_bipartite_matching(costs)
    real = second < len(j)
    return i[first[real]], j[second[real]]


def _with_none(row: IntArray, column: IntArray, gain: FloatArray, rows: int, columns: int) -> csr_matrix:
    from scipy.sparse import csr_matrix

    most = float(gain.max()) + 1.0
    values = np.concatenate([most - gain, np.full(rows, most)])
    at = (np.concatenate([row, np.arange(rows)]), np.concatenate([column, columns + np.arange(rows)]))
    return csr_matrix((values, at), shape=(rows, columns + rows))


def _by_new(pairs: _Pairs, count: int) -> list[tuple[int, slice]]:
    edges = np.searchsorted(pairs.new, np.arange(count + 1))
    return [(i, slice(int(edges[i]), int(edges[i + 1]))) for i in range(count)]


def _told(
    i: int,
    rows: slice,
    pairs: _Pairs,
    chance: FloatArray,
    chance_new: FloatArray,
    chosen: IntArray,
    away: FloatArray,
) -> Match:
    found = sorted(
        (
            Candidate(int(k), float(m), float(p))
            for k, m, p in zip(pairs.known[rows], away[rows], chance[rows], strict=True)
            if p >= _LEAST_CHANCE
        ),
        key=lambda c: (-c.chance, c.known),
    )
    known = None if chosen[i] < 0 else int(chosen[i])
    sure = float(chance_new[i]) if known is None else next((c.chance for c in found if c.known == known), 0.0)
    return Match(known, sure, tuple(found))
