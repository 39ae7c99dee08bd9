"""The likeliest division of a track into stays and walks.

A stay is a fixed, unknown point seen through first-order Gauss-Markov noise; a walk is a chain of straight
pieces at an unknown steady velocity. Point and velocity are integrated out, so that every stretch of steps has
a closed-form evidence made of running sums, and dynamic programming finds the best division of all.
Costs are -2 log likelihood, less what stays and walks have in common. Neighbouring stretches share a step,
so that every change from one step to the next belongs to exactly one of them.
"""

from __future__ import annotations

import math

import numpy as np

from standmap.stand.walks import FloatArray
from standmap.survey.habits import Habits
from standmap.survey.marks import MarkedSteps
from standmap.survey.noise import Noise, Steps
from standmap.survey.settings import StopSettings

_LONGEST_STAY_PIECE_S = 180.0
_LONGEST_WALK_PIECE_S = 36.0
_CAP = 3.0
_CHUNK = 4096
_AGAINST_MARKS = 1e6
"""Cost of what a mark rules out: far above all else, yet finite, for marks may contradict one another."""

_USUAL_STAY_COST = -2 * math.log(1 / 50)
"""Cost of a stay of a density of one in fifty seconds; the settings reckon from there."""


def stays_of(
    steps: Steps, noise: Noise, habits: Habits, marks: MarkedSteps, settings: StopSettings
) -> list[tuple[int, int]]:
    """Return first and last step of each stay, in order; neighbours may share a step.

    Parameters
    ----------
    steps
        An unbroken piece of a track.

    Notes
    -----
    A stay of more than three minutes comes in several pieces.
    """
    n = len(steps)
    if n < 2:
        return []
    # A low quantile, so that stays in the dense part of an uneven track are not cut short.
    usual = float(np.quantile(np.diff(steps.t), 0.1))
    reach = min(n - 1, max(2, round(_LONGEST_STAY_PIECE_S / usual), int(2 * settings.least_stay_s / usual)))
    stride = min(n - 1, max(2, round(_LONGEST_WALK_PIECE_S / usual)))
    evidence = _Evidence(steps, noise, habits, marks, settings)
    marked = (marks.at * _AGAINST_MARKS).tolist()

    # Best cost of a division that ends a stay or a walk at each step; the front padding stands for "before the start".
    after_walk = np.full(n + reach, np.inf)
    after_any = np.full(n + stride, np.inf)
    after_walk[reach], after_any[stride] = 0.0, marked[0]
    stay_from, walk_from = np.zeros(n, dtype=np.int64), np.zeros(n, dtype=np.int64)
    leapt, stood = np.zeros(n, dtype=bool), np.zeros(n, dtype=bool)
    best_stay = best_walk = np.inf
    for lo in range(1, n, _CHUNK):
        ends = np.arange(lo, min(n, lo + _CHUNK))
        stay_costs, walk_costs = evidence.of_stays(ends, reach), evidence.of_walks(ends, stride)
        for row, end in enumerate(ends.tolist()):
            costs = stay_costs[row] + after_walk[end : end + reach]
            k = int(costs.argmin())
            best_stay, stay_from[end] = costs[k], end - reach + k
            costs = walk_costs[row] + after_any[end : end + stride]
            k = int(costs.argmin())
            best_walk, walk_from[end] = costs[k], end - stride + k
            leapt[end] = best_stay + settings.leap_cost < best_walk
            after_walk[end + reach] = best_stay + settings.leap_cost if leapt[end] else best_walk
            bent = best_walk + settings.bend_cost + marked[end]
            stood[end] = best_stay + settings.leave_cost <= bent
            after_any[end + stride] = best_stay + settings.leave_cost if stood[end] else bent

    stays: list[tuple[int, int]] = []
    end, standing = n - 1, bool(best_stay < best_walk + marked[-1])
    while end > 0:
        if standing:
            start = int(stay_from[end])
            stays.append((start, end))
            standing = bool(leapt[start])
        else:
            start = int(walk_from[end])
            standing = bool(stood[start])
        end = start
    return stays[::-1]


class _Evidence:
    """Running sums over a track, from which the cost of any stretch of it follows."""

    def __init__(self, steps: Steps, noise: Noise, habits: Habits, marks: MarkedSteps, settings: StopSettings) -> None:
        self.habits, self.marked = habits, marks.any
        self.marks = np.concatenate(([0], np.cumsum(marks.at)))
        self.next_tree, self.last_tree = marks.next_tree, marks.last_tree
        self.x, self.y = steps.x - np.median(steps.x), steps.y - np.median(steps.y)
        self.begin, self.end, self.least_s = steps.begin, steps.end, settings.least_stay_s
        self.sigma2, self.speed2 = noise.sigma_m**2, settings.walking_m_s**2
        dt, dx, dy = np.diff(steps.t), np.diff(self.x), np.diff(self.y)
        moved2 = dx**2 + dy**2
        kept, variance = changes(steps, noise, settings)
        pull = 1 - kept
        ahead_x, ahead_y = self.x[1:] - kept * self.x[:-1], self.y[1:] - kept * self.y[:-1]
        self.pull2 = _running(pull**2 / variance)
        self.pull_x, self.pull_y = _running(pull * ahead_x / variance), _running(pull * ahead_y / variance)
        self.ahead2 = _running((ahead_x**2 + ahead_y**2) / variance)
        self.time2 = _running(dt**2 / variance)
        self.way_x, self.way_y = _running(dx * dt / variance), _running(dy * dt / variance)
        self.moved2 = _running(moved2 / variance)

    def of_stays(self, ends: np.ndarray, reach: int) -> FloatArray:
        """Return the costs of stays that end at `ends` and begin `reach` ... 1 steps earlier, shape (ends, reach)."""
        b = ends[:, None]
        a = b - np.arange(reach, 0, -1)
        begun = a >= 0
        a = np.maximum(a, 0)
        lasted = self.end[b] - self.begin[a]
        allowed = begun & (lasted >= self.least_s)
        if self.marked:
            # Whoever notes something has stopped, however short.
            allowed |= begun & (self.marks[b + 1] > self.marks[a])
        weight = 1 / self.sigma2 + self.pull2[b] - self.pull2[a]
        toward_x = self.x[a] / self.sigma2 + self.pull_x[b] - self.pull_x[a]
        toward_y = self.y[a] / self.sigma2 + self.pull_y[b] - self.pull_y[a]
        square = (self.x[a] ** 2 + self.y[a] ** 2) / self.sigma2 + self.ahead2[b] - self.ahead2[a]
        cost = square - (toward_x**2 + toward_y**2) / weight + 2 * np.log(weight * self.sigma2)
        cost += self.habits.of_stays(lasted) - _USUAL_STAY_COST
        if self.marked:
            cost += _AGAINST_MARKS * (self.last_tree[b] > self.next_tree[a])
            noted = self.marks[b + 1] > self.marks[a]
            cost -= 2 * np.log(np.where(noted, self.habits.noted, 1 - self.habits.noted))
        return np.where(allowed, cost, np.inf)

    def of_walks(self, ends: np.ndarray, stride: int) -> FloatArray:
        """Return the costs of straight walks that end at `ends`, shape (ends, stride)."""
        b = ends[:, None]
        a = b - np.arange(stride, 0, -1)
        allowed = a >= 0
        a = np.maximum(a, 0)
        weight = 1 / self.speed2 + self.time2[b] - self.time2[a]
        way2 = (self.way_x[b] - self.way_x[a]) ** 2 + (self.way_y[b] - self.way_y[a]) ** 2
        cost = self.moved2[b] - self.moved2[a] - way2 / weight + 2 * np.log(weight * self.speed2)
        if self.marked:
            cost += _AGAINST_MARKS * (self.marks[b] - self.marks[a + 1])
        return np.where(allowed, cost, np.inf)


def changes(steps: Steps, noise: Noise, settings: StopSettings) -> tuple[FloatArray, FloatArray]:
    """Return how much of the error is kept from each step to the next, and the variance of what is added."""
    dt = np.diff(steps.t)
    moved2 = np.diff(steps.x) ** 2 + np.diff(steps.y) ** 2
    kept = np.exp(-dt / noise.time_s)
    # A change that no walker makes says little: its variance is raised until it is a plain outlier.
    too_fast = moved2 > (settings.most_walking_m_s * dt) ** 2
    return kept, np.maximum(noise.sigma_m**2 * (1 - kept**2), np.where(too_fast, moved2 / _CAP**2, 0.0))


def _running(values: FloatArray) -> FloatArray:
    return np.concatenate(([0.0], np.cumsum(values)))
