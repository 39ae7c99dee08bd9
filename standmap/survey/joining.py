"""Whether two neighbouring stays are two stops or one, and when the walker left the one and reached the other.

Between two stops the walker goes straight at a steady pace, and the error of the receiver goes on all the while. Both
places are integrated out, and when the walker left and arrived is looked for on a small grid. What is compared with one
stay is thus the whole way there, so that a slow drift of the receiver, which shows no walk, is not taken for one.
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from standmap.stand.walks import FloatArray
from standmap.survey.division import changes
from standmap.survey.habits import Habits
from standmap.survey.marks import MarkedSteps
from standmap.survey.noise import Noise, Steps
from standmap.survey.settings import StopSettings

_AROUND = 3
"""Leaving and arriving are looked for within so many steps of where the division put them."""

_AROUND_AT_LAST = 8
_PASSES = 3
"""So often are all leavings and arrivals looked at again with those of their neighbours as found."""

_BETWEEN_MARKS = 60
_IN_SIGHT = 60
"""Steps farther from the way than this say nothing more about it."""

_Stay = tuple[int, int]
_Ints = NDArray[np.int64]


class Joining:
    """Neighbouring stays of one track, compared with each other."""

    def __init__(self, steps: Steps, noise: Noise, habits: Habits, marks: MarkedSteps, settings: StopSettings) -> None:
        self._steps, self._noise, self._habits, self._settings = steps, noise, habits, settings
        self._marks = marks
        # Counted from the first step, for sums of far-off coordinates lose digits.
        self._total = [np.concatenate(([0.0], np.cumsum(axis - axis[:1]))) for axis in (steps.x, steps.y)]
        self._kept, self._variance = changes(steps, noise, settings)
        self._step_s = float(np.median(np.diff(steps.t))) if len(steps) > 1 else settings.step_s

    def joined(self, stays: list[_Stay]) -> tuple[list[_Stay], FloatArray]:
        """Join neighbours that are better one stay, the clearest first.

        Returns
        -------
        stays, doubt
            Beside the stays, what it adds to the (co)variances of their mean places that they may be two after all:
            (e, n, en) in square metres, shape (stays, 3).
        """
        stays = list(stays)
        doubts = [np.zeros(3) for _ in stays]
        proofs = [self._proof(one, two) for one, two in pairwise(stays)]
        while proofs:
            i = min(range(len(proofs)), key=proofs.__getitem__)
            if proofs[i] >= self._settings.part_cost:
                break
            pair = stays[i], stays[i + 1]
            stays[i : i + 2] = [(stays[i][0], stays[i + 1][1])]
            doubts[i : i + 2] = [doubts[i] + doubts[i + 1] + self._rival(*pair, proofs[i])]
            del proofs[i]
            for j in (i - 1, i):
                if 0 <= j < len(proofs):
                    proofs[j] = self._proof(stays[j], stays[j + 1])
        return stays, np.array(doubts).reshape(-1, 3)

    def _rival(self, one: _Stay, two: _Stay, proof: float) -> FloatArray:
        """Return the chance that a joined stay is two, times the squares of how far off the longer one then lies."""
        longer = one if one[1] - one[0] >= two[1] - two[0] else two
        firsts, lasts = np.array([longer[0], one[0]]), np.array([longer[1], two[1]])
        x, y = (float(axis[1] - axis[0]) for axis in self._means(firsts, lasts))
        return np.array([x * x, y * y, x * y]) / (1 + math.exp(min(-proof / 2, 500.0)))

    def _means(self, first: _Ints, last: _Ints) -> list[FloatArray]:
        """Return the mean x and y of steps `first` to `last`."""
        return [(total[last + 1] - total[first]) / (last + 1 - first) for total in self._total]

    def settled(self, stays: list[_Stay]) -> tuple[list[_Stay], FloatArray]:
        """Move the ends of stays to where leaving and arriving are likeliest; between two marks, anywhere.

        Returns
        -------
        stays, doubt
            Beside the stays, by how much their mean places vary with the leavings and arrivals that are likely:
            variances and covariance (e, n, en) in square metres, shape (stays, 3).
        """
        stays = list(stays)
        doubt = np.zeros((len(stays), 3))
        for _ in range(_PASSES):
            doubt = self._settle(stays)
        return stays, doubt

    def _settle(self, stays: list[_Stay]) -> FloatArray:
        """Move the ends of all stays once, in place; return the doubt that is left."""
        doubt = np.zeros((len(stays), 3))
        for i in range(len(stays) - 1):
            one, two = stays[i], stays[i + 1]
            if self._parted(one, two):
                continue
            leave, arrive = self._near(one, two, _AROUND_AT_LAST)
            held, next_held = self._marks.within(*one), self._marks.within(*two)
            if held is not None and next_held is not None and next_held[0] - held[1] <= _BETWEEN_MARKS:
                between = np.arange(held[1], next_held[0] + 1)
                leave, arrive = (v.ravel() for v in np.meshgrid(between, between, indexing="ij"))
            leave, arrive, gains, _ways = self._grid(one, two, leave, arrive)
            if len(gains):
                # The middle of all that is likely is less often far off than the likeliest.
                likely = np.exp((gains - gains.max()) / 2)
                left, reached = (round(float(likely @ v / likely.sum())) for v in (leave, arrive))
                stays[i], stays[i + 1] = (one[0], left), (max(reached, left + 1), two[1])
                likely /= likely.sum()
                doubt[i] += self._varied(np.full(len(leave), one[0]), leave, likely)
                doubt[i + 1] += self._varied(arrive, np.full(len(arrive), two[1]), likely)
        return doubt

    def _varied(self, first: _Ints, last: _Ints, likely: FloatArray) -> FloatArray:
        """Return how the mean place of steps `first` to `last` varies over what is likely: variances, covariance."""
        x, y = (axis - likely @ axis for axis in self._means(first, last))
        return np.array([likely @ x**2, likely @ y**2, likely @ (x * y)])

    @staticmethod
    def _near(one: _Stay, two: _Stay, around: int) -> tuple[_Ints, _Ints]:
        near = np.arange(-around, around + 1)
        leave, arrive = np.meshgrid(one[1] + near, two[0] + near, indexing="ij")
        return leave.ravel(), arrive.ravel()

    def _parted(self, one: _Stay, two: _Stay) -> bool:
        return bool(self._steps.begin[two[0]] - self._steps.end[one[1]] > self._settings.longest_silence_s)

    def _proof(self, one: _Stay, two: _Stay) -> float:
        """Return twice the log of how much likelier two stops are than one."""
        if self._parted(one, two) or self._marks.apart(one[0], two[1]):
            return math.inf
        _leave, _arrive, gains, ways = self._grid(one, two, *self._near(one, two, _AROUND))
        if not len(gains):
            return -math.inf
        most = float(gains.max())
        if ways[int(gains.argmax())] < self._settings.merge_within_m:
            return -math.inf
        proof = most + 2 * math.log(float(np.exp((gains - most) / 2).sum())) + 4 * math.log(self._step_s)
        if self._marks.any:
            both = self._marks.within(*one) is not None and self._marks.within(*two) is not None
            proof += 2 * math.log(self._habits.noted if both else 1 - self._habits.noted)
        return proof

    def _grid(self, one: _Stay, two: _Stay, leave: _Ints, arrive: _Ints) -> tuple[_Ints, _Ints, FloatArray, FloatArray]:
        """Return the leavings and arrivals that can be, twice the log likelihood ratio and the way of each."""
        steps, settings = self._steps, self._settings
        (begin, left), (reached, end) = one, two
        possible = (leave >= begin) & (arrive <= end) & (arrive > leave)
        leave, arrive = leave[possible], arrive[possible]
        stay_s, next_s = steps.end[leave] - steps.begin[begin], steps.end[end] - steps.begin[arrive]
        possible = self._long_enough(one, stay_s) & self._long_enough(two, next_s)
        if (held := self._marks.within(*one)) is not None:
            possible &= leave >= held[1]
        if (held := self._marks.within(*two)) is not None:
            possible &= arrive <= held[0]
        leave, arrive = leave[possible], arrive[possible]
        none = np.zeros(0)
        if not len(leave):
            return leave, arrive, none, none

        lo, hi = max(begin, left - _IN_SIGHT), min(end, reached + _IN_SIGHT)
        t = steps.t[lo : hi + 1]
        left_s, reached_s = steps.t[leave], steps.t[arrive]
        along = np.clip((t - left_s[:, None]) / (reached_s - left_s)[:, None], 0, 1)
        kept = self._kept[lo:hi]
        # Whitened: the first place as it is, then every change; `still` multiplies one place, `gone` the way.
        weight = np.concatenate(([1 / self._noise.sigma_m**2], 1 / self._variance[lo:hi]))
        still = np.concatenate(([1.0], 1 - kept))
        gone = np.concatenate((along[:, :1], along[:, 1:] - kept * along[:, :-1]), axis=1)
        still_held = float((weight * still**2).sum())
        both = gone @ (weight * still)
        held_way = gone**2 @ weight - both**2 / still_held
        gains = -2 * np.log(held_way / (2 * math.pi))
        ways2 = np.zeros(len(leave))
        for axis in (steps.x[lo : hi + 1], steps.y[lo : hi + 1]):
            white = weight * np.concatenate((axis[:1], axis[1:] - kept * axis[:-1]))
            toward = gone @ white - both * float(still @ white) / still_held
            gains += toward**2 / held_way
            ways2 += (toward / held_way) ** 2
        ways = np.sqrt(ways2)
        gains -= self._habits.of_stays(stay_s[possible]) + self._habits.of_stays(next_s[possible])
        gains += self._habits.of_stays(np.array([steps.end[end] - steps.begin[begin]]))
        gains -= self._habits.of_ways(ways, reached_s - left_s, settings.pace_m_s)
        return leave, arrive, gains, ways

    def _long_enough(self, stay: _Stay, lasted_s: FloatArray) -> NDArray[np.bool_]:
        least = self._settings.least_stay_s if self._marks.within(*stay) is None else 0.0
        return lasted_s >= min(least, float(self._steps.end[stay[1]] - self._steps.begin[stay[0]]))
