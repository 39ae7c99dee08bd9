"""NMEA logs made for tests: a receiver that stands still, walks on, or tells little."""

from __future__ import annotations

import math
from collections.abc import Iterable
from datetime import datetime, timedelta

import numpy as np

from standmap.formats.nmea_sentences import checksum

METRES_A_DEGREE = 111_195.0


def sentence(body: str) -> bytes:
    """Return a sentence with its checksum and line end."""
    return f"${body}*{checksum(body.encode()):02X}\r\n".encode()


def angle(degrees: float, digits: int) -> str:
    """Return an angle as NMEA writes it: degrees and minutes in one number."""
    whole = int(abs(degrees))
    return f"{whole:0{digits}d}{(abs(degrees) - whole) * 60:09.6f}"


def moment(at: datetime, lon: float, lat: float, *, sigma_m: float | None = 2.0, dated: bool = True) -> bytes:
    """Return the sentences of one moment."""
    clock = at.strftime("%H%M%S.00")
    place = f"{angle(lat, 2)},{'N' if lat >= 0 else 'S'},{angle(lon, 3)},{'E' if lon >= 0 else 'W'}"
    parts = [f"GNGGA,{clock},{place},1,09,0.9,101.0,M,17.0,M,,"]
    if dated:
        parts.append(f"GNRMC,{clock},A,{place},0.0,,{at:%d%m%y},,,A")
    if sigma_m is not None:
        parts.append(f"GNGST,{clock},3.0,,,,{sigma_m},{sigma_m},4.0")
    return b"".join(sentence(part) for part in parts)


def standing(
    begins: datetime,
    lon: float,
    lat: float,
    seconds: int,
    *,
    noise_m: float = 2.0,
    seed: int = 3,
    legs: Iterable[tuple[float, float]] = (),
) -> bytes:
    """Return a log of a person who stands, then walks the legs (east, north, metres a second each)."""
    noise = np.random.default_rng(seed)
    keep = math.exp(-1 / 30)
    off = noise.normal(size=2) * noise_m
    moved = np.zeros(2)
    found = []
    for i, leg in enumerate([*[(0.0, 0.0)] * seconds, *legs]):
        moved += leg
        off = keep * off + noise.normal(size=2) * noise_m * math.sqrt(1 - keep**2)
        east, north = moved + off
        found.append(
            moment(
                begins + timedelta(seconds=i),
                lon + east / METRES_A_DEGREE / math.cos(math.radians(lat)),
                lat + north / METRES_A_DEGREE,
                sigma_m=noise_m,
            )
        )
    return b"".join(found)
