"""Reading the log of a receiver: NMEA 0183 sentences in a file, whatever else stands between them."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from datetime import date
from pathlib import Path

import numpy as np

from standmap.formats.content import Findings, FoundWalk, Skipped
from standmap.formats.faults import go_on, refused, unreadable, within
from standmap.formats.nmea_fixes import NmeaEvent, NmeaFix, NmeaStream, day_before, seconds_on
from standmap.progress import Progress, Unwatched
from standmap.stand.walks import Fixes

MOST_BYTES = 512_000_000
"""Largest log that is read."""

GAP_S = 60.0
"""A silence longer than this breaks a walk into two pieces: an assumption."""

HEAD_BYTES = 1 << 16
"""So many bytes are looked at to tell a log by its content: it may begin with binary messages."""

_CHUNK = 1 << 18
_WHOLE = rb"[$!][A-Z]{2}[A-Z]{3},[\x20-\x7e]{0,1000}?\*[0-9A-Fa-f]{2}"
_BARE = rb"\$[A-Z]{2}(?:RMC|GGA|GNS|GLL),[\x20-\x7e]*"
_LINE = re.compile(rb"(?:\A|[\r\n])[ \t]*(?:%s|%s)" % (_WHOLE, _BARE))
_ANYWHERE = re.compile(rb"\$[A-Z]{2}[A-Z]{3},[\x20-\x23\x25-\x7e]{0,1000}?\*[0-9A-Fa-f]{2}")
_CONTROL = re.compile(rb"[\x00-\x08\x0e-\x1f]")


def is_nmea(head: bytes) -> bool:
    """Return whether the first bytes of a file are those of a receiver's log.

    In a text a sentence stands at the beginning of a line; after binary messages it may stand anywhere.
    """
    if _CONTROL.search(head):
        return _ANYWHERE.search(head) is not None
    first = head.lstrip(b" \t\r\n\xef\xbb\xbf")
    return not first.startswith((b"<", b"{", b"[")) and _LINE.search(head) is not None


def read_nmea(path: Path, *, day: date | None = None, progress: Progress | None = None) -> Findings:
    """Read the log of a receiver.

    Parameters
    ----------
    day
        The day by UTC on which it begins, for a log that tells none; what the log tells comes first.

    Returns
    -------
    Findings
        One walk of all fixes, in pieces where the receiver was silent or had no fix. Sentences that could not be used
        are counted in `told`.

    Raises
    ------
    UserError
        If the file cannot be read, is too large, or holds no usable fix.
    """
    watched = progress or Unwatched()
    size = within(path, MOST_BYTES, "split it, or keep only the days that matter")
    stream, events = NmeaStream(), []
    done = 0
    try:
        with path.open("rb") as file:
            while chunk := file.read(_CHUNK):
                events += stream.feed(chunk)
                done += len(chunk)
                go_on(path, watched, done, size)
    except OSError as error:
        raise unreadable(path, error) from None
    events += stream.close()
    fixes = [e for e in events if isinstance(e, NmeaFix)]
    if not fixes:
        raise refused(path, _why_none(stream), "log again under open sky until the receiver has a fix")
    if len(fixes) < 2:
        only = (Skipped("the log", "has 1 usable fix; a walk needs two"),)
        return Findings("nmea", 1, skipped=only, told=tuple(left_out(stream)))
    table, dated = fixes_table(events, day)
    told = left_out(stream)
    if not dated and day is None:
        told.append("no sentence tells the day, so it is kept as a line without stops; --date can name the day")
    elif not dated:
        told.append(f"no sentence tells the day; it was dated {day} as given")
    if not any(fix.by_gst for fix in fixes):
        told.append("the receiver does not tell its accuracy: it is assumed from the HDOP, 5 m at an HDOP of 1")
    return Findings("nmea", len(fixes), walks=(FoundWalk("the log", table),), told=tuple(told))


def fixes_table(events: Sequence[NmeaEvent], day: date | None = None) -> tuple[Fixes, bool]:
    """Return the fixes of a log as columns, and whether a sentence told the day.

    Moments before the first that tells its day are dated back from it.

    Parameters
    ----------
    day
        The day of the first fix where no sentence tells one.
    """
    fixes = [e for e in events if isinstance(e, NmeaFix)]
    told = next((f for f in fixes if f.day is not None), None)
    first = day if told is None or told.day is None else day_before(told.day, told.midnights)

    def seconds(fix: NmeaFix) -> float:
        own = fix.day if fix.day is not None else None if first is None else day_before(first, -fix.midnights)
        return math.nan if own is None else seconds_on(own, fix.clock_s)

    time = np.array([seconds(f) for f in fixes], dtype=np.float64)
    rows = np.array([(f.lon, f.lat, f.sigma_m, f.elevation_m) for f in fixes], dtype=np.float64).reshape(-1, 4)
    lon, lat, sigma, elevation = rows.T.copy()
    return Fixes(lon, lat, time, sigma, elevation, _pieces(events)), told is not None


def _pieces(events: Sequence[NmeaEvent]) -> np.ndarray[tuple[int], np.dtype[np.int32]]:
    """Return the number of the unbroken piece of each fix."""
    pieces: list[int] = []
    piece, broken, before = 0, False, math.nan
    for event in events:
        if not isinstance(event, NmeaFix):
            broken = True
            continue
        clock_s = event.midnights * 86_400.0 + event.clock_s
        if pieces and (broken or abs(clock_s - before) > GAP_S):
            piece += 1
        pieces.append(piece)
        broken, before = False, clock_s
    return np.array(pieces, dtype=np.int32)


def left_out(stream: NmeaStream) -> list[str]:
    """Return a sentence about each kind of what could not be used, with its count."""
    sentences, moments = stream.sentences.counts, stream.moments
    found = []
    if n := sentences.bad_checksum:
        one, many = (
            f"{n} sentence with a wrong checksum was left out",
            f"{n} sentences with a wrong checksum were left out",
        )
        found.append(one if n == 1 else many)
    if n := sentences.no_checksum:
        one, many = f"{n} sentence without a checksum was left out", f"{n} sentences without a checksum were left out"
        found.append(one if n == 1 else many)
    if n := sentences.malformed:
        one, many = f"{n} garbled sentence was left out", f"{n} garbled sentences were left out"
        found.append(one if n == 1 else many)
    if n := moments.outvoted:
        one = f"{n} sentence that contradicts the others was left out"
        found.append(one if n == 1 else f"{n} sentences that contradict the others were left out")
    if n := moments.disagreeing:
        one = f"{n} moment whose sentences disagree was left out"
        found.append(one if n == 1 else f"{n} moments whose sentences disagree were left out")
    if n := moments.not_measured:
        one = f"{n} position that was not measured was left out"
        found.append(one if n == 1 else f"{n} positions that were not measured were left out")
    if n := moments.without_fix:
        one, many = f"{n} moment without a fix was left out", f"{n} moments without a fix were left out"
        found.append(one if n == 1 else many)
    return found


def _why_none(stream: NmeaStream) -> str:
    why = left_out(stream)
    return f"holds no usable fix ({'; '.join(why)})" if why else "holds no usable fix"
