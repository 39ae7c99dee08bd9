"""NMEA 0183 sentences out of a stream of bytes, piece by piece: whatever is between them is passed over.

A sentence begins with `$`, is printable, and ends with `*` and a checksum of two hexadecimal digits: the bytes between
the two signs, exclusive-or. Binary messages, AIS sentences (`!`) and noise may stand anywhere between.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from standmap.stand.tree import LonLat

LONGEST_SENTENCE = 1000
"""Characters between `$` and `*`. The standard allows 79, but makers' own sentences are longer (common practice)."""

LONGEST_NUMBER = 20
"""Characters of a number: none that is meant has more."""

WANTED = frozenset({"RMC", "GGA", "GNS", "GLL", "GST", "GSA", "ZDA"})
"""Sentences that tell of position, time or accuracy; all others are only counted."""

_BODY = re.compile(rb"[\x20\x22\x23\x25-\x29\x2b-\x7e]{0,%d}" % LONGEST_SENTENCE)
_LOOKS_RIGHT = re.compile(rb"(?:[A-Z]{2}[A-Z]{3}|P[A-Z0-9]{3,}),")
_HEX = frozenset(b"0123456789ABCDEFabcdef")
_ANGLE = re.compile(r"([0-9]{1,3})([0-5][0-9](?:\.[0-9]*)?)")
_CLOCK = re.compile(r"([0-9]{2})([0-9]{2})([0-9]{2}(?:\.[0-9]*)?)")
_NUMBER = re.compile(r"[+-]?[0-9]+(?:\.[0-9]*)?|[+-]?\.[0-9]+")


@dataclass(slots=True)
class SentenceCounts:
    """How many sentences there were, and why others could not be used."""

    good: int = 0
    bad_checksum: int = 0
    no_checksum: int = 0
    malformed: int = 0


class MalformedError(Exception):
    """A sentence with the right checksum holds what it cannot hold."""


@dataclass(frozen=True, slots=True)
class Sentence:
    """One sentence that is wanted.

    Attributes
    ----------
    talker
        Who speaks: "GP", "GN", "GL", "GA" or any other.
    kind
        One of `WANTED`.
    """

    talker: str
    kind: str
    _message: Any

    def text(self, field: str) -> str:
        """Return a field as it was written, "" where it is empty or was left out."""
        place = type(self._message).name_to_idx[field]
        return str(self._message.data[place]).strip() if place < len(self._message.data) else ""

    def number(self, field: str) -> float | None:
        """Return a field as a number, None where it is empty.

        Raises
        ------
        MalformedError
            If it is neither.
        """
        text = self.text(field)
        if not text:
            return None
        if not _NUMBER.fullmatch(text) or len(text) > LONGEST_NUMBER:
            raise MalformedError(field)
        return float(text)

    def clock_s(self) -> float | None:
        """Return the time of day, UTC, in seconds; None where it is empty.

        Raises
        ------
        MalformedError
            If it is no time.
        """
        text = self.text("timestamp")
        if not text:
            return None
        found = _CLOCK.fullmatch(text)
        if found is None:
            raise MalformedError("timestamp")
        hours, minutes, seconds = int(found[1]), int(found[2]), float(found[3])
        if hours > 23 or minutes > 59 or seconds >= 61:  # 60 is a leap second
            raise MalformedError("timestamp")
        return hours * 3600.0 + minutes * 60.0 + seconds

    def position(self) -> LonLat | None:
        """Return longitude and latitude in degrees, None where both are empty.

        Raises
        ------
        MalformedError
            If they are no position.
        """
        names = ("lat", "lat_dir", "lon", "lon_dir")
        lat, lat_side, lon, lon_side = (self.text(name) for name in names)
        if not lat and not lon:
            return None
        return _degrees(lon, lon_side, "EW", 180.0), _degrees(lat, lat_side, "NS", 90.0)


class SentenceReader:
    """Takes bytes in pieces of any size and gives the sentences in them; how they are cut makes no difference."""

    def __init__(self) -> None:
        self.counts = SentenceCounts()
        self._held = b""

    def feed(self, data: bytes) -> Iterator[Sentence]:
        """Take some bytes and yield each wanted sentence that is whole now."""
        held, at = self._held + data, 0
        self._held = b""
        while (start := held.find(b"$", at)) >= 0:
            body = _BODY.match(held, start + 1)
            end = body.end() if body is not None else start + 1
            if end == len(held):
                self._held = held[start:]  # it may go on in the next piece
                return
            if held[end : end + 1] != b"*":
                self._cut_off(held[start + 1 : end], ended=held[end : end + 1] in b"\r\n")
                at = end
                continue
            digits = held[end + 1 : end + 3]
            if all(d in _HEX for d in digits) and len(digits) < 2:
                self._held = held[start:]
                return
            at = end + 1
            if not all(d in _HEX for d in digits):
                self._cut_off(held[start + 1 : end], ended=False)
                continue
            at = end + 3
            yield from self._checked(held[start + 1 : end], int(digits, 16))

    def close(self) -> None:
        """Count what is left as cut off: no more bytes come."""
        if self._held:
            self._cut_off(self._held[1:], ended=False)
            self._held = b""

    def _cut_off(self, body: bytes, *, ended: bool) -> None:
        if not _LOOKS_RIGHT.match(body):
            return  # a dollar sign among other bytes
        if ended:
            self.counts.no_checksum += 1
        else:
            self.counts.malformed += 1

    def _checked(self, body: bytes, told: int) -> Iterator[Sentence]:
        if not _LOOKS_RIGHT.match(body):
            self.counts.malformed += 1
        elif checksum(body) != told:
            self.counts.bad_checksum += 1
        elif body[2:5].decode("ascii") in WANTED and body[5:6] == b",":
            self.counts.good += 1
            yield Sentence(body[:2].decode("ascii"), body[2:5].decode("ascii"), _parsed(body.decode("ascii"), told))
        else:
            self.counts.good += 1


def checksum(body: bytes) -> int:
    """Return the exclusive-or of all bytes between `$` and `*`."""
    total = 0
    for byte in body:
        total ^= byte
    return total


def _parsed(body: str, told: int) -> Any:
    return _parser()(f"${body}*{told:02X}", check=True)


@lru_cache(maxsize=1)
def _parser() -> Any:
    from pynmea2 import parse  # type: ignore[import-untyped]

    return parse


def _degrees(text: str, side: str, sides: str, most: float) -> float:
    found = _ANGLE.fullmatch(text)
    if found is None or side not in sides or len(side) != 1:
        raise MalformedError("position")
    degrees = int(found[1]) + float(found[2]) / 60
    if degrees > most:
        raise MalformedError("position")
    return -degrees if side == sides[1] else degrees
