"""Fixes out of NMEA sentences: those of one moment are put together, and moments are given their day."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from itertools import combinations

from standmap.formats.accuracy import sigma_of_hdop
from standmap.formats.nmea_sentences import MalformedError, Sentence, SentenceReader
from standmap.stand.tree import LonLat

DAY_S = 86_400.0

MIDNIGHT_AFTER_S = 3_600.0
"""A clock that goes back by more than this has passed midnight; by less, sentences came out of order."""

ALIKE_M = 100.0
"""Sentences of one moment that differ by more than this do not speak of one position: an assumption."""

_METRES_A_DEGREE = 111_195.0
_NOT_MEASURED = frozenset({"6", "7", "8"})
"""GGA quality: estimated, typed in, simulated."""

_MODES_NOT_MEASURED = frozenset("EMS")


@dataclass(frozen=True, slots=True)
class NmeaFix:
    """One position as the sentences of one moment tell it.

    Attributes
    ----------
    clock_s
        Time of day, UTC, seconds.
    midnights
        How many midnights have passed since the first fix.
    day
        The day by UTC, None while none was told.
    sigma_e_m, sigma_n_m
        Standard deviations of both axes: of a GST sentence, else by the assumption for an HDOP, else NaN.
    by_gst
        Whether the receiver itself told them.
    elevation_m
        NaN where absent.
    satellites
        How many were used, where told.
    """

    lon: float
    lat: float
    clock_s: float
    midnights: int
    day: date | None
    sigma_e_m: float
    sigma_n_m: float
    by_gst: bool
    elevation_m: float = math.nan
    satellites: int | None = None

    @property
    def time_s(self) -> float:
        """Seconds since 1970-01-01 UTC, NaN where the day is not known."""
        return math.nan if self.day is None else seconds_on(self.day, self.clock_s)

    @property
    def sigma_m(self) -> float:
        """Root mean of the two axis variances, metres; NaN where unknown."""
        return math.hypot(self.sigma_e_m, self.sigma_n_m) / math.sqrt(2)


@dataclass(frozen=True, slots=True)
class NoFix:
    """A moment at which the receiver spoke, but knew no position."""

    clock_s: float | None
    satellites: int | None = None


NmeaEvent = NmeaFix | NoFix


@dataclass(slots=True)
class MomentCounts:
    """How many moments gave no fix, or one that could not be used."""

    fixes: int = 0
    without_fix: int = 0
    not_measured: int = 0
    disagreeing: int = 0
    outvoted: int = 0


def seconds_on(day: date, clock_s: float) -> float:
    """Return seconds since 1970-01-01 UTC of a time on a day."""
    return (datetime(day.year, day.month, day.day, tzinfo=UTC) - _EPOCH).total_seconds() + clock_s


_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


class NmeaStream:
    """Takes bytes of a receiver in pieces of any size and gives what it tells, one moment after another.

    A moment is given when the next one begins, so that all of its sentences count whatever their order.
    """

    def __init__(self, day: date | None = None) -> None:
        self.sentences = SentenceReader()
        self.moments = MomentCounts()
        self._moment = _Moment(None)
        self._dating = _Dating(day)

    def feed(self, data: bytes) -> list[NmeaEvent]:
        """Take some bytes and return what is known now."""
        return list(self._heard(self.sentences.feed(data)))

    def close(self) -> list[NmeaEvent]:
        """Return what is left: no more bytes come."""
        self.sentences.close()
        found = list(self._finished())
        self._moment = _Moment(None)
        return found

    def _heard(self, sentences: Iterable[Sentence]) -> Iterator[NmeaEvent]:
        for sentence in sentences:
            try:
                clock_s = None if sentence.kind == "GSA" else sentence.clock_s()
                if self._begins(sentence, clock_s):
                    yield from self._finished()
                    self._moment = _Moment(clock_s)
                self._moment.take(sentence)
            except MalformedError:
                self.sentences.counts.good -= 1
                self.sentences.counts.malformed += 1

    def _begins(self, sentence: Sentence, clock_s: float | None) -> bool:
        """Return whether a sentence is of another moment than those before it."""
        moment = self._moment
        if sentence.kind == "GSA" or moment.empty:
            return moment.empty and sentence.kind != "GSA"
        if clock_s is None or moment.clock_s is None:
            return clock_s != moment.clock_s or (sentence.talker, sentence.kind) in moment.heard
        return abs(clock_s - moment.clock_s) > 0.005

    def _finished(self) -> Iterator[NmeaEvent]:
        moment, counts = self._moment, self.moments
        if moment.empty:
            return
        day, midnights = self._dating.date_of(moment)
        at, outvoted = _agreed(moment.places)
        counts.outvoted += outvoted
        if not moment.fixed or moment.clock_s is None or not moment.places:
            if moment.tells_of_fix:
                counts.without_fix += 1
                yield NoFix(moment.clock_s, moment.satellites)
        elif moment.not_measured:
            counts.not_measured += 1
        elif at is None:
            counts.disagreeing += 1
        else:
            counts.fixes += 1
            east, north, by_gst = moment.sigmas()
            yield NmeaFix(
                *at, moment.clock_s, midnights, day, east, north, by_gst, moment.elevation_m, moment.satellites
            )


@dataclass(slots=True)
class _Moment:
    """What the sentences of one moment have told so far."""

    clock_s: float | None
    heard: set[tuple[str, str]] = field(default_factory=set)
    places: list[tuple[int, LonLat]] = field(default_factory=list)
    says_no: bool = False
    not_measured: bool = False
    day: date | None = None
    gst: tuple[float, float] | None = None
    hdop: float = math.nan
    hdop_of_gsa: float = math.nan
    elevation_m: float = math.nan
    satellites: int | None = None

    @property
    def empty(self) -> bool:
        return not self.heard

    @property
    def fixed(self) -> bool:
        return not self.says_no

    @property
    def tells_of_fix(self) -> bool:
        return any(kind in _RANK for _, kind in self.heard)

    def take(self, sentence: Sentence) -> None:
        """Take a sentence in: all that it tells, or nothing where it is malformed."""
        if sentence.kind == "GSA":
            self.hdop_of_gsa = _or_nan(sentence.number("hdop"))
            return  # it belongs to no moment of its own
        if sentence.kind == "ZDA":
            day = _day(sentence.text("day"), sentence.text("month"), sentence.text("year"))
            self.day = day or self.day
        elif sentence.kind == "GST":
            north, east = sentence.number("std_dev_latitude"), sentence.number("std_dev_longitude")
            if north is not None and east is not None and north > 0 and east > 0:
                self.gst = (east, north)
        else:
            self._take_position(sentence)
        self.heard.add((sentence.talker, sentence.kind))

    def _take_position(self, sentence: Sentence) -> None:
        at = sentence.position()
        kind = sentence.kind
        no, made_up = False, False
        if kind == "GGA":
            quality = sentence.text("gps_qual")
            no, made_up = quality in ("", "0"), quality in _NOT_MEASURED
            hdop, satellites = sentence.number("horizontal_dil"), sentence.number("num_sats")
            elevation = sentence.number("altitude")
        elif kind == "GNS":
            mode = sentence.text("mode_indicator")
            no = not mode.strip("N")
            made_up = bool(mode.strip("N")) and set(mode.strip("N")) <= _MODES_NOT_MEASURED
            hdop, satellites = sentence.number("hdop"), sentence.number("num_sats")
            elevation = sentence.number("altitude")
        else:
            mode = sentence.text("mode_indicator" if kind == "RMC" else "faa_mode")
            no = sentence.text("status") != "A" or mode == "N"
            made_up = mode in _MODES_NOT_MEASURED
            hdop = satellites = elevation = None
            if kind == "RMC" and (written := sentence.text("datestamp")):
                if len(written) != 6:
                    raise MalformedError("datestamp")
                self.day = _day(written[:2], written[2:4], written[4:]) or self.day
        self.says_no |= no
        self.not_measured |= made_up
        if hdop is not None:
            self.hdop = hdop
        if satellites is not None:
            self.satellites = int(satellites)
        if elevation is not None:
            self.elevation_m = elevation
        if at is not None and not no:
            self.places.append((_RANK[kind], at))

    def sigmas(self) -> tuple[float, float, bool]:
        """Return the standard deviations east and north, and whether the receiver told them itself."""
        if self.gst is not None:
            return *self.gst, True
        hdop = self.hdop if not math.isnan(self.hdop) else self.hdop_of_gsa
        assumed = sigma_of_hdop(hdop)
        return assumed, assumed, False


_RANK = {"GGA": 0, "GNS": 1, "RMC": 2, "GLL": 3}
"""Whose position is taken where several agree: those that most often have more digits come first."""


def _agreed(places: list[tuple[int, LonLat]]) -> tuple[LonLat | None, int]:
    """Return the position that most sentences of a moment tell, None where as many tell another; and how many do."""
    if not places:
        return None, 0
    alike = [{i} for i in range(len(places))]
    for i, j in combinations(range(len(places)), 2):
        if _apart_m(places[i][1], places[j][1]) <= ALIKE_M:
            alike[i].add(j)
            alike[j].add(i)
    most = max(map(len, alike))
    first = next(i for i, group in enumerate(alike) if len(group) == most)
    if any(len(group) == most and not group & alike[first] for group in alike):
        return None, 0
    rank = min((places[i][0], i) for i in alike[first])[1]
    return places[rank][1], len(places) - most


def _apart_m(a: LonLat, b: LonLat) -> float:
    east = (abs(a[0] - b[0]) + 180) % 360 - 180
    return _METRES_A_DEGREE * math.hypot(abs(east) * math.cos(math.radians(a[1])), a[1] - b[1])


class _Dating:
    """Gives moments their day: that of their own sentences, else the one before, a midnight later where one passed."""

    def __init__(self, day: date | None) -> None:
        self._day = day
        self._clock_s: float | None = None
        self._midnights = 0

    def date_of(self, moment: _Moment) -> tuple[date | None, int]:
        if moment.clock_s is None or not moment.fixed:
            # Before its first fix a receiver's clock may be years off: nothing is learnt from it.
            return None, self._midnights
        passed = 0
        if self._clock_s is not None:
            if self._clock_s - moment.clock_s > MIDNIGHT_AFTER_S:
                passed = 1
            elif moment.clock_s - self._clock_s > DAY_S - MIDNIGHT_AFTER_S:
                passed = -1  # out of order, from before midnight
        self._midnights += passed
        self._clock_s = moment.clock_s
        if moment.day is not None:
            self._day = moment.day
        elif self._day is not None:
            self._day = _shifted(self._day, passed)
        return self._day, self._midnights


def day_before(day: date, midnights: int) -> date | None:
    """Return the day so many midnights before another; None before the first day that a date can be."""
    return _shifted(day, -midnights)


def _shifted(day: date, days: int) -> date | None:
    try:
        return day + timedelta(days=days)
    except OverflowError:
        return None


def _day(day: str, month: str, year: str) -> date | None:
    """Return a day; two digits of a year mean 1980 to 2079: GPS began in 1980. None where all is empty."""
    if not (day or month or year):
        return None
    if not all(part.isascii() and part.isdecimal() and len(part) <= 4 for part in (day, month, year)):
        raise MalformedError("date")
    number = int(year)
    if len(year) <= 2:
        number += 1900 if number >= 80 else 2000
    try:
        return date(number, int(month), int(day))
    except ValueError:
        raise MalformedError("date") from None


def _or_nan(value: float | None) -> float:
    return math.nan if value is None else value
