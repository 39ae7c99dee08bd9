"""The most likely places of all points from everything that was measured, how sure they are, and what disagrees.

Positions by receivers (each walk with a shift of its own), bearings, distances and offsets are one sparse weighted
least-squares problem, solved by Gauss-Newton steps that are damped while they do not help (Levenberg 1944, Marquardt
1963; from memory). Readings that the others speak against lose weight by the scheme IGG III (Yang 1994; from memory),
begun from Huber's weights, and a reading is named as a blunder where its normalised misfit passes the limit of
Baarda's test (1968; from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from standmap.errors import UserError
from standmap.progress import Progress, Unwatched
from standmap.stand.sights import Sight
from standmap.stand.walks import FloatArray
from standmap.survey.hanging import Hanging, hanging
from standmap.survey.inverse_part import inverse_part
from standmap.survey.one_sight import XY
from standmap.survey.readings import Equations, IntArray, Reading, SeenAt, What

if TYPE_CHECKING:
    from scipy.sparse import csr_matrix

BLUNDER_SIGMAS = 3.29
"""A normalised misfit beyond this comes of chance once in a thousand readings (two-sided normal)."""

_FULL, _NONE = 2.0, 6.0
"""Normalised misfits up to the first keep their weight, beyond the second they have none (IGG III; values assumed)."""

_HUBER = 1.345
_TWO_AXES = 1.13
"""A misfit on two axes is divided by this: sqrt(chi-square of 2 at 0.999) is 1.13 times the normal limit of 0.999."""

LEAST_CHECKED = 0.02
"""A reading of which less than this share is checked by others cannot be judged."""

_LOOSE_M2 = 1e-12
"""Weight that holds every unknown ever so slightly where it began, so that what hangs on nothing can be told."""

_LOST_M = 300.0
"""A standard deviation beyond this means that nothing ties a point down."""

_ROUNDS, _HUBER_ROUNDS = 10, 4
_STEPS, _FEW_STEPS = 30, 2
_SETTLED_M = 1e-8
_PROBES = 96
"""Random signs by which it is guessed how well each reading is checked: a guess is off by 0.07 of 1 at most."""


@dataclass(frozen=True, slots=True)
class Found:
    """Where a point lies.

    Attributes
    ----------
    covariance
        var_e, var_n, cov_en in square metres; None where nothing ties it down.
    """

    xy: XY
    covariance: tuple[float, float, float] | None


@dataclass(frozen=True, slots=True)
class Judged:
    """One reading beside what all say together.

    Attributes
    ----------
    off
        What the points say less what was read: metres for a distance, degrees for a bearing; the length in metres
        for a position and an offset.
    off_xy
        For a position: metres east and north from it to where the point lies.
    sigmas
        The normalised misfit; None where no other reading checks it.
    checked
        Share of the reading that others check, 0 to 1: its redundancy.
    weight
        From 1 (believed) to 0 (left out).
    """

    reading: Reading
    off: float
    off_xy: XY | None
    sigmas: float | None
    checked: float
    weight: float

    @property
    def blunder(self) -> bool:
        """Whether it disagrees more than chance would let it."""
        return self.sigmas is not None and self.sigmas > BLUNDER_SIGMAS


@dataclass(frozen=True, slots=True)
class Adjusted:
    """What came of a network.

    Attributes
    ----------
    points
        Every point, those that are held too.
    shifts
        Metres east and north by which each walk lay off.
    judged
        Every reading.
    hanging
        What is not tied down.
    misfit
        Root mean square of the normalised misfits, weighted: near 1 where the assumed accuracies are right.
    spare
        How many equations there are more than unknowns.
    beside
        For each point that is tied down: the one nearest to it that is, and how sure their distance and direction are
        (root mean of the two axis variances of the way from one to the other, metres).
    """

    points: Mapping[str, Found]
    shifts: Mapping[str, XY]
    judged: tuple[Judged, ...]
    hanging: tuple[Hanging, ...]
    misfit: float
    spare: int
    beside: Mapping[str, tuple[str, float]] = field(default_factory=dict)


def adjust(
    points: Mapping[str, XY],
    held: frozenset[str],
    seen: Sequence[SeenAt],
    sights: Sequence[Sight],
    shift_m2: Mapping[str, float],
    convergence_deg: float = 0.0,
    progress: Progress | None = None,
) -> Adjusted:
    """Return the most likely places of all points.

    Parameters
    ----------
    points
        Where each is first taken to be, metres on the grid.
    held
        Those that do not move.
    seen, sights
        Positions by receivers, and tape and compass; a sight that is not used is passed over.
    shift_m2
        For each walk the variance of an axis of the error that all its positions share, square metres.
    convergence_deg
        Grid bearing + convergence = true bearing.

    Raises
    ------
    UserError
        If a stop was asked for.
    """
    progress = progress or Unwatched()
    used = [s for s in sights if s.used]
    equations = Equations(points, held, seen, used, shift_m2, convergence_deg)
    x = equations.start
    if len(x) == 0 or len(equations.reading_of) == 0:
        still = {key: Found(xy, (0.0, 0.0, 0.0) if key in held else None) for key, xy in points.items()}
        return Adjusted(still, {}, (), hanging(points, held, seen, used, frozenset(points) - held), 0.0, 0)

    weight = np.ones(len(equations.readings))
    x = _settled(equations, x, weight, progress, _STEPS)
    # Until it is known how well each reading is checked, all are held to be checked alike.
    checked = np.full(len(weight), max(1 - len(x) / len(equations.reading_of), 0.1))
    for round_ in range(_ROUNDS):
        progress.at(round_ + 1, _ROUNDS + 2, "weighing what disagrees")
        robust = _huber if round_ < _HUBER_ROUNDS else _igg3
        before, weight = weight, robust(_normalised(equations, x, checked))
        x = _settled(equations, x, weight, progress, _FEW_STEPS)
        if round_ == _HUBER_ROUNDS - 1:
            checked = _roughly_checked(equations, x)
        elif round_ >= _HUBER_ROUNDS and float(np.abs(before - weight).max()) < 1e-3:
            break
    x = _settled(equations, x, weight, progress, _STEPS)
    progress.at(_ROUNDS + 1, _ROUNDS + 2, "working out how sure each point is")
    return _told(equations, points, held, seen, used, x, weight, _Inverse(equations, x, weight))


def _spread(equations: Equations, weight: FloatArray) -> FloatArray:
    """Return the square root of the weight of each equation."""
    return np.asarray(np.sqrt(np.append(weight, 1.0)[equations.reading_of]))


def _settled(equations: Equations, x: FloatArray, weight: FloatArray, progress: Progress, steps: int) -> FloatArray:
    """Return the unknowns of least weighted misfit, begun from `x`, or as near to them as so many steps lead."""
    from scipy.sparse import diags, identity
    from scipy.sparse.linalg import splu

    root = _spread(equations, weight)
    damping = 1e-9
    misfits = equations.misfits(x) * root
    cost = float(misfits @ misfits)
    loose = _LOOSE_M2 * identity(len(x), format="csc")
    for _ in range(steps):
        if progress.stop_wanted():
            raise UserError("the adjustment was stopped", "nothing was changed")
        slopes = diags(root) @ equations.slopes(x)
        normal = (slopes.T @ slopes).tocsc()
        pull = slopes.T @ misfits
        better = False
        while damping < 1e8:
            damped = normal + loose + damping * diags(normal.diagonal() + _LOOSE_M2)
            step = -splu(damped.tocsc(), permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True}).solve(pull)
            if float(np.abs(step).max()) < _SETTLED_M:
                return x + step  # by now rounding alone decides whether it helps
            tried = equations.misfits(x + step) * root
            tried_cost = float(tried @ tried)
            if tried_cost <= cost * (1 + 1e-15):
                x, misfits, better = x + step, tried, True
                cost, damping = tried_cost, max(damping / 10, 1e-12)
                break
            damping *= 10
        if not better:
            break
    return x


def _roughly_checked(equations: Equations, x: FloatArray) -> FloatArray:
    """Return a guess of which share of each reading the others check, shape (readings,).

    The diagonal of the matrix that turns readings into adjusted readings, estimated by random signs (Hutchinson 1990;
    from memory); the same network always gives the same guess.
    """
    from scipy.sparse import identity
    from scipy.sparse.linalg import splu

    slopes = equations.slopes(x)
    normal = (slopes.T @ slopes + _LOOSE_M2 * identity(len(x))).tocsc()
    signs = np.random.default_rng(1).choice([-1.0, 1.0], (slopes.shape[0], _PROBES))
    solved = splu(normal, permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True}).solve(slopes.T @ signs)
    share = 1 - (signs * (slopes @ solved)).mean(axis=1)
    return np.clip(_mean_of_readings(equations, share), 0.1, 1.0)


def _mean_of_readings(equations: Equations, share: FloatArray) -> FloatArray:
    """Return the mean over the equations of each reading, shape (readings,)."""
    own = equations.reading_of >= 0
    number, readings = equations.reading_of[own], len(equations.readings)
    total = np.bincount(number, weights=share[own], minlength=readings)
    return np.asarray(total / np.maximum(np.bincount(number, minlength=readings), 1))


class _Inverse:
    """The parts of the inverse of the normal equations that are asked for, and how well each reading is checked."""

    def __init__(self, equations: Equations, x: FloatArray, weight: FloatArray) -> None:
        from scipy.sparse import diags, identity

        root = _spread(equations, weight)
        bare = equations.slopes(x)
        slopes = diags(root) @ bare
        unknowns = len(x)
        normal = (slopes.T @ slopes + _LOOSE_M2 * identity(unknowns)).tocsc()
        self.nearest = _nearest(equations.places(x))
        asked = (abs(bare).T @ abs(bare) + identity(unknowns) + _pairs(equations, self.nearest)).tocsc()
        self.part = inverse_part(normal, asked)
        told = np.asarray((bare @ self.part).multiply(bare).sum(axis=1)).ravel()
        share = np.clip(1 - told * root**2, 0.0, 1.0)
        self.checked = _mean_of_readings(equations, share)
        # Of a reading without weight the misfit varies by its own variance and that of what the others say.
        self.variance = np.where(root > 0.5, np.maximum(1 - told, 0.0), 1 + told)


def _nearest(places: FloatArray) -> IntArray:
    """Return the number of the point nearest to each, -1 where there is none, shape (points,)."""
    from scipy.spatial import cKDTree

    count = len(places)
    if count < 2:
        return np.full(count, -1, dtype=np.int64)
    near = np.asarray(cKDTree(places).query(places, k=2)[1], dtype=np.int64)
    # Of two points at one place either may come first.
    return np.where(near[:, 0] == np.arange(count), near[:, 1], near[:, 0])


def _pairs(equations: Equations, nearest: IntArray) -> csr_matrix:
    """Return the pattern of what each point has in common with the one nearest to it, (unknowns, unknowns)."""
    from scipy.sparse import csr_matrix

    size = len(equations.start)
    one = np.flatnonzero(nearest >= 0)
    first, second = equations.columns[one], equations.columns[nearest[one]]
    both = (first >= 0) & (second >= 0)
    first, second = first[both], second[both]
    rows = np.concatenate([first + i for i in (0, 1) for _ in (0, 1)])
    columns = np.concatenate([second + j for _ in (0, 1) for j in (0, 1)])
    pattern = csr_matrix((np.ones(len(rows)), (rows, columns)), shape=(size, size))
    return pattern + pattern.T


def _beside(equations: Equations, inverse: _Inverse, found: Mapping[str, Found]) -> dict[str, tuple[str, float]]:
    """Return for each point the one nearest to it and how sure the way from one to the other is."""
    one = np.flatnonzero(inverse.nearest >= 0)
    other = inverse.nearest[one]
    first, second = equations.columns[one], equations.columns[other]
    diagonal = np.append(inverse.part.diagonal(), [0.0, 0.0])  # what is held has no variance
    variance = np.zeros(len(one))
    both = (first >= 0) & (second >= 0)
    for axis in (0, 1):
        for column in (first, second):
            variance += diagonal[np.where(column >= 0, column + axis, -1)]
        if both.any():
            shared = inverse.part[first[both] + axis, second[both] + axis]
            variance[both] -= 2 * np.asarray(shared).ravel()
    sigma_m = np.sqrt(np.maximum(variance, 0.0) / 2)
    told: dict[str, tuple[str, float]] = {}
    for key, near, sigma in zip(
        (equations.keys[i] for i in one), (equations.keys[i] for i in other), sigma_m, strict=True
    ):
        if found[key].covariance is not None and found[near].covariance is not None:
            told[key] = (near, float(sigma))
    return told


def _normalised(equations: Equations, x: FloatArray, checked: FloatArray) -> FloatArray:
    """Return the misfit of each reading in standard deviations of a misfit, shape (readings,)."""
    own = equations.reading_of >= 0
    number = equations.reading_of[own]
    square = np.bincount(number, weights=equations.misfits(x)[own] ** 2, minlength=len(equations.readings))
    two = np.bincount(number, minlength=len(equations.readings)) == 2
    size = np.sqrt(square / np.maximum(checked, LEAST_CHECKED))
    return np.where(checked < LEAST_CHECKED, 0.0, np.where(two, size / _TWO_AXES, size))


def _huber(normal: FloatArray) -> FloatArray:
    return np.minimum(1.0, _HUBER / np.maximum(normal, 1e-9))


def _igg3(normal: FloatArray) -> FloatArray:
    between = _FULL / np.maximum(normal, 1e-9) * ((_NONE - normal) / (_NONE - _FULL)) ** 2
    return np.where(normal <= _FULL, 1.0, np.where(normal >= _NONE, 0.0, between))


def _told(
    equations: Equations,
    points: Mapping[str, XY],
    held: frozenset[str],
    seen: Sequence[SeenAt],
    sights: Sequence[Sight],
    x: FloatArray,
    weight: FloatArray,
    inverse: _Inverse,
) -> Adjusted:
    places = equations.places(x)
    found: dict[str, Found] = {}
    block = _blocks(inverse.part, len(equations.free))
    free = {int(i): n for n, i in enumerate(equations.free)}
    lost: set[str] = set()
    for i, key in enumerate(equations.keys):
        xy = (float(places[i, 0]), float(places[i, 1]))
        if i not in free:
            found[key] = Found(xy, (0.0, 0.0, 0.0))
            continue
        var_e, var_n, cov_en = (float(v) for v in block[free[i]])
        tied = max(var_e, var_n) < _LOST_M**2
        if not tied:
            lost.add(key)
        found[key] = Found(xy, (var_e, var_n, cov_en)) if tied else Found(points[key], None)
    shifts = {walk: (float(e), float(n)) for walk, (e, n) in zip(equations.walks, equations.shifts(x), strict=True)}
    judged = _judged(equations, x, weight, inverse, places)
    rows = np.array([j.sigmas**2 * j.weight for j in judged if j.sigmas is not None])
    believed = sum(j.weight for j in judged if j.sigmas is not None)
    return Adjusted(
        points=found,
        shifts=shifts,
        judged=judged,
        hanging=hanging(points, held, seen, sights, frozenset(lost)),
        misfit=math.sqrt(float(rows.sum()) / believed) if believed > 0 else 0.0,
        spare=len(equations.reading_of) - len(x),
        beside=_beside(equations, inverse, found),
    )


def _blocks(part: Any, free: int) -> FloatArray:
    """Return var_e, var_n, cov_en of each free point, shape (free, 3)."""
    diagonal = part.diagonal()[: 2 * free]
    cross = part.diagonal(k=1)[: 2 * free : 2] if part.shape[0] > 1 else np.zeros(free)
    return np.column_stack([diagonal[0::2], diagonal[1::2], cross[:free]])


def _judged(
    equations: Equations, x: FloatArray, weight: FloatArray, inverse: _Inverse, places: FloatArray
) -> tuple[Judged, ...]:
    misfits = equations.misfits(x)
    first: dict[int, int] = {}
    for row, number in enumerate(equations.reading_of.tolist()):
        if number >= 0:
            first.setdefault(number, row)
    off = equations.in_units(misfits)
    found: list[Judged] = []
    for number, reading in enumerate(equations.readings):
        row = first[number]
        two = reading.what in (What.POSITION, What.OFFSET)
        rows = [row, row + 1] if two else [row]
        checked = float(inverse.checked[number]) if weight[number] > 0.25 else 1.0
        sigmas: float | None = None
        variance = inverse.variance[rows]
        if checked >= LEAST_CHECKED and (variance > 1e-9).all():
            sigmas = math.sqrt(float((misfits[rows] ** 2 / np.maximum(variance, LEAST_CHECKED)).sum()))
            sigmas = sigmas / _TWO_AXES if two else sigmas
        xy: XY | None = None
        if reading.what is What.POSITION:
            xy = equations.off_position(number, places)
        size = math.hypot(*off[rows]) if two else float(off[row])
        found.append(Judged(reading, math.hypot(*xy) if xy else size, xy, sigmas, checked, float(weight[number])))
    return tuple(found)
