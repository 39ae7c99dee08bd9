"""How far a camera's or a note-taker's clock is from the clock of the walk.

Everywhere here an offset is how much a clock is ahead: true time is what the clock said, less the offset.

Notes are made and pictures taken while the walker stands still, so the right offset is the one at which they fall into
stops, and at which pictures that know their place lie on the track. Each offset is worth a log likelihood: a moment is
in a stop with probability `IN_A_STOP`, in any one of them as likely as in another and at any time of it; else it is
on the way; a position is off by normal errors. What clocks are wrong by is known beforehand: mostly by a time zone,
or by some seconds or minutes beside one. No figure of these has a published source: they are assumptions.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum, auto

import numpy as np

from standmap.stand.walks import FloatArray

IN_A_STOP = 0.92
"""Share of notes that are made while standing: an assumption."""

OUTSIDE = 1e-3
"""Share of moments that lie outside the walk, spread over a day: an assumption."""

FURTHEST_S = 14.25 * 3600
"""The largest offset that is looked for: zones reach from UTC-12 to UTC+14 (from memory)."""

BESIDE_S = 900.0
"""A clock may be off by this beside its zone and still be found: an assumption."""

SET_BY_RADIO = 0.8
SET_WITHIN_S = 4.0
DRIFT_S = 150.0
"""This share of clocks is set by a network, to within some such seconds; the others are off by some such time, which
falls off evenly on both sides (Laplace's distribution): assumptions."""

TRACK_SIGMA_M = 6.0
"""Standard deviation of one axis of how far picture and track disagree about a place: an assumption."""

SURE = 3.0
"""How much likelier, as a logarithm, an offset must be than every other: 20 times."""

FEW_IN_STOPS = 0.7
"""Where less than this share of the moments falls into stops, that is told."""

LIKELY_RIGHT = 0.95
MOST_OF_THEM = 0.8
"""A clock is trusted as it is where this is its chance to put so much of the moments at the right stops: one or two
moments may lie in stops by chance, so their clock is asked for."""

FEWEST = 3
"""So few moments in stops prove nothing."""

MOST_MOMENTS = 240
MOST_STOPS = 600
"""More tell nothing new; an even choice of them is taken."""

_DAY_S = 86_400.0
_QUARTER_S = 900.0


class How(Enum):
    """How an offset was found.

    Attributes
    ----------
    TOLD
        A person stated it.
    SATELLITES
        Pictures tell the time of the satellites beside the camera's.
    STOPS
        So the moments fall into stops.
    TRUSTED
        Nothing speaks against the clock.
    UNSURE
        Several offsets fit about as well.
    """

    TOLD = auto()
    SATELLITES = auto()
    STOPS = auto()
    TRUSTED = auto()
    UNSURE = auto()


@dataclass(frozen=True, slots=True)
class Moment:
    """When something was noted, by a clock that may be wrong.

    Attributes
    ----------
    time_s
        Seconds since 1970-01-01 as the clock said, counted as UTC where it names no zone.
    zone_told
        Whether it names its zone.
    xy
        Where it was noted, metres in the working frame, where that is known.
    sigma_m
        Standard deviation of one axis of that place.
    ahead_s
        By how much the clock was ahead of the satellites' time, where both are known.
    """

    time_s: float
    zone_told: bool = True
    xy: tuple[float, float] | None = None
    sigma_m: float | None = None
    ahead_s: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Timeline:
    """What is known of the walks' time.

    Attributes
    ----------
    stays
        First and last moment of each stop, seconds since 1970 UTC, shape (m, 2), ascending.
    walks
        First and last moment of each walk, shape (k, 2).
    time_s, x, y
        Fixes of all walks in ascending time: seconds, metres in the working frame, shape (n,).
    lon_deg
        Where on Earth the stand is: which zones are likely.
    """

    stays: FloatArray
    walks: FloatArray
    time_s: FloatArray
    x: FloatArray
    y: FloatArray
    lon_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class ClockOffset:
    """By how much a clock is ahead of the walk's.

    Attributes
    ----------
    offset_s
        Seconds; to be taken off.
    spread_s
        Standard deviation.
    in_stops, of
        How many of the moments fall into stops then, and how many there are.
    other_s
        Another offset that fits about as well, where it is not sure.
    """

    offset_s: float
    spread_s: float
    how: How
    in_stops: int = 0
    of: int = 0
    other_s: float | None = None

    @property
    def sure(self) -> bool:
        """Whether it can be built on."""
        few = self.of >= FEWEST and self.in_stops < FEW_IN_STOPS * self.of
        return self.how is not How.UNSURE and not (self.how is How.TRUSTED and few)

    def words(self, whose: str) -> str:
        """Return in a sentence what was found and done; nothing where there is nothing to say.

        Parameters
        ----------
        whose
            Such as "the notes' clock".
        """
        by = _signed(self.offset_s)
        if self.how is How.UNSURE:
            perhaps = "" if self.other_s is None else f" (perhaps {_signed(self.other_s)})"
            return (
                f"{whose} cannot be set by the walk for certain{perhaps}: taken as it is; "
                "state it by --clock-offset or --notes-zone"
            )
        if self.how is How.TOLD:
            return f"{whose} is {by}, as was stated: taken off" if self.offset_s else ""
        if abs(self.offset_s) < 0.5:
            return "" if self.sure else f"{whose} may be wrong: only {self.in_stops} of {self.of} fall into stops"
        within = max(1, round(self.spread_s))
        if self.how is How.STOPS:
            return f"{whose} is {by}: taken off ({self.in_stops} of {self.of} then fall into stops, good to {within} s)"
        return f"{whose} is {by}: taken off (told by the satellites' time in pictures, good to {within} s)"


def duration_words(seconds: float) -> str:
    """Return a time span as hours, minutes and seconds: "1 h 00 min 12 s"."""
    whole = round(seconds)
    days, rest = divmod(whole, 86_400)
    hours, rest = divmod(rest, 3600)
    minutes, left = divmod(rest, 60)
    if days:
        return f"{days} d {hours} h {minutes:02d} min"
    if hours:
        return f"{hours} h {minutes:02d} min {left:02d} s"
    return f"{minutes} min {left:02d} s" if minutes else f"{left} s"


def _signed(seconds: float) -> str:
    span = duration_words(abs(seconds))
    return f"{span} ahead" if seconds >= 0 else f"{span} behind"


def clock_offset(moments: Sequence[Moment], timeline: Timeline) -> ClockOffset:
    """Return the offset of the clock that all these moments were read from.

    Notes
    -----
    Pictures that tell the satellites' time beside the clock's settle it. Else the likeliest offset is taken where it
    is `SURE` and puts at least `FEWEST` moments into stops; where it is not, a clock that names its zone and puts the
    moments within the walk is trusted as it is, if it is as likely as `LIKELY_RIGHT` to be right: one or two moments
    never prove that.
    """
    both = np.array([m.ahead_s for m in moments if m.ahead_s is not None], dtype=np.float64)
    if len(both):
        middle = float(np.median(both))
        spread = max(1.0, 1.4826 * float(np.median(np.abs(both - middle))))
        return ClockOffset(middle, spread, How.SATELLITES, of=len(moments))
    if not moments or not len(timeline.walks):
        return ClockOffset(0.0, 0.0, How.TRUSTED, of=len(moments))
    search = _Search(moments, timeline)
    return search.answer()


class _Search:
    """Looks at every offset at which a moment enters or leaves a stop."""

    def __init__(self, moments: Sequence[Moment], timeline: Timeline) -> None:
        self._line = timeline
        self._all = np.array([m.time_s for m in moments], dtype=np.float64)
        chosen = _even(len(moments), MOST_MOMENTS)
        self._moments = [moments[i] for i in chosen]
        self._time_s = self._all[chosen]
        self._zone_told = all(m.zone_told for m in moments)
        self._stays = timeline.stays[_even(len(timeline.stays), MOST_STOPS)].reshape(-1, 2)

    def answer(self) -> ClockOffset:
        """Return the likeliest offset, if it is sure enough."""
        candidates = self._candidates()
        worth = self._likelihood(candidates) + self._beforehand(candidates)
        best = int(np.argmax(worth))
        plain = int(np.argmin(np.abs(candidates)))
        alike = self._alike(candidates, best)
        others = np.where(alike, -np.inf, worth)
        rival = int(np.argmax(others))
        inside = self._in_stops(candidates[best])
        # One or two moments may be of another place and day; only the zone of this place is found from so few.
        bare = candidates[best] % 3600.0 == 0 and not self._zone_told and bool(self._likely(candidates[best] / 3600.0))
        sure = worth[best] - others[rival] >= SURE and inside >= (1 if bare or alike[plain] else FEWEST)
        count = len(self._all)
        as_it_is = alike[plain] and self._zone_told and worth[plain] > worth[best] - 2.0
        if sure and not (as_it_is and not self._likely_right()):
            offset, spread = self._settled(candidates[alike], worth[alike])
            if as_it_is:
                return ClockOffset(0.0, spread, How.TRUSTED, inside, count)
            return ClockOffset(offset, spread, How.STOPS, self._in_stops(offset), count)
        better = worth[best] - worth[plain]
        fits = self._zone_told and self._within(0.0) >= 0.8 * count and (alike[plain] or better < SURE)
        if fits and self._likely_right():
            return ClockOffset(0.0, 0.0, How.TRUSTED, self._in_stops(0.0), count)
        perhaps = float(candidates[best]) if inside else None
        return ClockOffset(0.0, 0.0, How.UNSURE, self._in_stops(0.0), count, other_s=perhaps)

    def _likely_right(self) -> bool:
        """Return whether the clock as it is has a good chance to put most moments at the right stops."""
        beside = np.arange(-BESIDE_S, BESIDE_S + 1)
        offsets = (np.array([[-3600.0], [0.0], [3600.0]]) + beside).ravel()
        worth = self._likelihood(offsets) + self._beforehand(offsets)
        share = np.exp(worth - worth.max())
        same = self._alike(offsets, len(offsets) // 2, MOST_OF_THEM)
        return bool(share[same].sum() >= LIKELY_RIGHT * share.sum())

    @property
    def _placed(self) -> bool:
        return any(m.xy is not None for m in self._moments)

    def _candidates(self) -> FloatArray:
        """Return offsets in ascending order, each standing for those about it that put the same moments into stops."""
        zones = np.arange(-FURTHEST_S, FURTHEST_S + 1, _QUARTER_S)
        edges = (self._time_s[:, None, None] - self._stays[None, :, :]).ravel()
        edges = np.unique(np.round(edges))
        edges = edges[np.abs(edges) <= FURTHEST_S + BESIDE_S]
        if len(edges) > 6000:
            edges = edges[_even(len(edges), 6000)]
        middles = (edges[1:] + edges[:-1]) / 2
        fine = np.arange(-BESIDE_S, BESIDE_S + 1, 5.0) if self._placed else np.zeros(0)
        whole = np.arange(-14, 15) * 3600.0
        beside = (whole[:, None] + fine[None, :]).ravel()
        return np.unique(np.concatenate([zones, middles, beside, [0.0]]))

    def _beforehand(self, offsets: FloatArray) -> FloatArray:
        """Return how likely offsets are before anything is looked at, as logarithms without a common constant."""
        zone = np.round(offsets / _QUARTER_S) * _QUARTER_S
        beside = np.abs(offsets - zone)
        set_well = SET_BY_RADIO / (2 * SET_WITHIN_S) * np.exp(-beside / SET_WITHIN_S)
        adrift = (1 - SET_BY_RADIO) / (2 * DRIFT_S) * np.exp(-beside / DRIFT_S)
        worth = np.log(set_well + adrift)
        hours = zone / 3600.0
        part = np.mod(zone, 3600.0)
        # Half-hour zones are few, and those of a quarter fewer.
        worth = worth - np.where(part == 0, 0.0, np.where(part == 1800.0, 2.0, 4.0))
        if self._zone_told:
            # A zone that was named and is wrong: most often summer time forgotten.
            worth = worth - np.where(hours == 0, 0.0, np.where(np.abs(hours) == 1, 2.0, 4.0))
            return np.asarray(worth)
        return np.asarray(worth - np.where(self._likely(hours), 0.0, np.where(hours == 0, 1.0, 4.0)))

    def _likely(self, hours: FloatArray) -> FloatArray:
        """Return which zones are kept about here: near the sun's time, or ahead of it."""
        ahead = hours - self._line.lon_deg / 15.0
        return np.asarray((ahead >= -1.5) & (ahead <= 3.0))

    def _likelihood(self, offsets: FloatArray) -> FloatArray:
        worth = np.zeros(len(offsets))
        stays, walks = self._stays, self._line.walks
        lasted = np.maximum(stays[:, 1] - stays[:, 0], 1.0)
        on_the_way = max(float((walks[:, 1] - walks[:, 0]).sum()) - float(lasted.sum()), 60.0)
        out, way = OUTSIDE / _DAY_S, (1 - IN_A_STOP - OUTSIDE) / on_the_way
        for moment in self._moments:
            true = moment.time_s - offsets
            density = np.where(_inside(true, walks), way, out)
            if len(stays):
                slot = np.clip(np.searchsorted(stays[:, 0], true, side="right") - 1, 0, len(stays) - 1)
                standing = (true >= stays[slot, 0]) & (true <= stays[slot, 1])
                density = np.where(standing, density + IN_A_STOP / len(stays) / lasted[slot], density)
            worth += np.log(density)
            if moment.xy is not None and len(self._line.time_s):
                x = np.interp(true, self._line.time_s, self._line.x)
                y = np.interp(true, self._line.time_s, self._line.y)
                variance = TRACK_SIGMA_M**2 + (moment.sigma_m or TRACK_SIGMA_M) ** 2
                apart = (x - moment.xy[0]) ** 2 + (y - moment.xy[1]) ** 2
                # A place that is quite wrong must not outweigh all others.
                worth += np.maximum(-apart / (2 * variance), -8.0)
        return worth

    def _alike(self, offsets: FloatArray, best: int, part: float = 0.5) -> np.ndarray:
        """Return which offsets are the same answer as the best: so much of the moments goes to the same stops."""
        if not len(self._stays):
            return np.asarray(np.abs(offsets - offsets[best]) <= DRIFT_S)
        same = np.zeros(len(offsets))
        for time_s in self._time_s:
            slots = np.searchsorted(self._stays[:, 0], time_s - offsets, side="right")
            same += slots == slots[best]
        near = np.abs(offsets - offsets[best]) <= BESIDE_S
        return np.asarray((same >= part * len(self._time_s)) & near)

    def _settled(self, offsets: FloatArray, worth: FloatArray) -> tuple[float, float]:
        """Return the mean of the offsets that are the same answer, and their spread; a bare zone where it will do."""
        # Between two candidates nothing changes: each stands for half the way to its neighbours.
        width = np.gradient(offsets) if len(offsets) > 1 else np.ones(1)
        share = np.exp(worth - worth.max()) * np.abs(width)
        share /= share.sum()
        mean = float(share @ offsets)
        spread = math.sqrt(max(float(share @ (offsets - mean) ** 2), 1.0))
        zone = np.round(offsets / _QUARTER_S) * _QUARTER_S
        bare = np.flatnonzero(offsets == zone)
        if len(bare) and worth[bare].max() > worth.max() - 2.0:
            return float(offsets[bare[int(np.argmax(worth[bare]))]]), spread
        return mean, spread

    def _in_stops(self, offset: float) -> int:
        return int(_inside(self._all - offset, self._line.stays).sum()) if len(self._line.stays) else 0

    def _within(self, offset: float) -> int:
        return int(_inside(self._all - offset, self._line.walks).sum())


def _inside(times: FloatArray, spans: FloatArray) -> np.ndarray:
    """Return which moments lie within one of a few spans, shape (k, 2)."""
    found = np.zeros(times.shape, dtype=bool)
    for begin, end in spans:
        found |= (times >= begin) & (times <= end)
    return found


def _even(count: int, most: int) -> np.ndarray:
    """Return at most so many places out of `count`, evenly chosen."""
    return np.arange(count) if count <= most else np.unique(np.linspace(0, count - 1, most).round().astype(int))
