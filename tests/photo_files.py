"""Pictures with metadata of every kind, made for tests."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from PIL import Image

EXIF, GPS = 0x8769, 0x8825


def dms(degrees: float) -> tuple[float, float, float]:
    """Return degrees, minutes and seconds."""
    whole = int(degrees)
    minutes = int((degrees - whole) * 60)
    return float(whole), float(minutes), round((degrees - whole - minutes / 60) * 3600, 4)


def photo(
    path: Path,
    *,
    taken: str | None = None,
    offset: str | None = None,
    gps_day: str | None = None,
    gps_clock: tuple[float, float, float] | None = None,
    at: tuple[float, float] | None = None,
    within_m: float | None = None,
    orientation: int | None = None,
    camera: str | None = None,
    size: tuple[int, int] = (60, 40),
    kind: str = "JPEG",
    mode: str = "RGB",
    colour: str = "white",
) -> Path:
    """Write a picture whose upper left quarter is black, and return its path."""
    picture = Image.new("RGB", size, colour)
    picture.paste("black", (0, 0, size[0] // 2, size[1] // 2))
    exif: Any = Image.Exif()
    if orientation is not None:
        exif[0x0112] = orientation
    if camera is not None:
        exif[0x0110] = camera
    more, gps = exif.get_ifd(EXIF), exif.get_ifd(GPS)
    if taken is not None:
        more[0x9003] = taken
    if offset is not None:
        more[0x9011] = offset
    if gps_day is not None:
        gps[29] = gps_day
    if gps_clock is not None:
        gps[7] = gps_clock
    if at is not None:
        gps[1], gps[2] = "S" if at[1] < 0 else "N", dms(abs(at[1]))
        gps[3], gps[4] = "W" if at[0] < 0 else "E", dms(abs(at[0]))
    if within_m is not None:
        gps[31] = within_m
    picture.convert(mode).save(path, kind, exif=exif)
    return path
