"""Reading photographs: when and where a picture was taken, and a small copy of it to keep.

What a camera writes about a picture (Exif) is somebody else's text: any of it may be missing, wrong or nonsense, and
then counts as not told. The picture itself must decode whole.
"""

from __future__ import annotations

import io
import math
import re
import warnings
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from standmap.formats.accuracy import RADIUS_68_IN_SIGMAS
from standmap.formats.content import Findings, FoundPhoto
from standmap.formats.faults import go_on, refused, unreadable, within
from standmap.progress import Progress, Unwatched
from standmap.stand.tree import LonLat

MOST_BYTES = 200_000_000
"""Largest picture that is opened."""

MOST_PIXELS = 150_000_000
"""More are refused before they are decoded: few cameras take as many."""

MOST_UNSCALED = 60_000_000
"""The same for kinds that cannot be decoded at a smaller scale, which a JPEG can."""

LONGEST_SIDE = 1280
QUALITY = 80
"""Of the copy that is kept: enough to know a tree again, some hundred kilobytes."""

MEDIA_TYPE = "image/jpeg"

_KINDS = ("JPEG", "PNG", "TIFF", "WEBP", "MPO", "AVIF")
_SCALED = ("JPEG", "MPO")
_MAGIC = (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"II*\0", b"MM\0*")
_HEIC = frozenset({b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"})
_EXIF_IFD, _GPS_IFD = 0x8769, 0x8825
_MAKE, _MODEL, _MOMENT = 0x010F, 0x0110, 0x0132
_TAKEN, _TAKEN_OFFSET, _ANY_OFFSET, _TAKEN_FRACTION = 0x9003, 0x9011, 0x9010, 0x9291
_LAT_REF, _LAT, _LON_REF, _LON, _CLOCK, _DAY, _WITHIN = 1, 2, 3, 4, 7, 29, 31
_MOMENT_TEXT = re.compile(r"(\d{4})[:-](\d{2})[:-](\d{2})[ T](\d{2}):(\d{2}):(\d{2})")
_OFFSET_TEXT = re.compile(r"([+-])(\d{2}):?(\d{2})|Z")
_DAY_TEXT = re.compile(r"(\d{4})[:-](\d{2})[:-](\d{2})")
_MOST_WITHIN_M = 10_000.0


def is_heic(head: bytes) -> bool:
    """Return whether the first bytes of a file are those of a picture as many phones keep it, which is not read."""
    return head[4:8] == b"ftyp" and head[8:12] in _HEIC and b"avif" not in head[:64]


def is_photo(head: bytes) -> bool:
    """Return whether the first bytes of a file are those of a picture that can be read."""
    brand = head[8:12] if head[4:8] == b"ftyp" else b""
    return head.startswith(_MAGIC) or (head[:4] == b"RIFF" and head[8:12] == b"WEBP") or brand in {b"avif", b"avis"}


def read_photo(path: Path, *, progress: Progress | None = None) -> Findings:
    """Read one picture.

    Raises
    ------
    UserError
        If the file cannot be read, is damaged or cut off, or has more pixels than any camera takes.
    """
    import PIL
    from PIL import Image, ImageOps

    within(path, MOST_BYTES, "save it smaller")
    go_on(path, progress or Unwatched(), 0, 1)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)  # our own bounds are below
            warnings.filterwarnings("ignore", category=UserWarning)  # of damaged metadata, which counts as not told
            with Image.open(path, formats=_KINDS) as picture:
                most = MOST_PIXELS if picture.format in _SCALED else min(MOST_UNSCALED, MOST_PIXELS)
                if picture.width * picture.height > most:
                    raise refused(path, f"has {picture.width} x {picture.height} pixels", "save it smaller")
                told = _told_by(picture)
                picture.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
                picture.load()
                upright = _upright(picture, ImageOps)
                content = _small(upright)
    except Image.DecompressionBombError:
        raise refused(path, "has far more pixels than a photograph", "save it smaller") from None
    except PIL.UnidentifiedImageError:
        raise refused(path, "begins like a picture, but is none that can be read", "save it as JPEG") from None
    except (SyntaxError, ValueError, EOFError, MemoryError, OverflowError, IndexError, TypeError, KeyError):
        raise refused(path, "is a damaged picture", "copy it from the camera again") from None
    except OSError as error:
        if error.errno is not None:
            raise unreadable(path, error) from None
        raise refused(path, "is a damaged picture, or cut off", "copy it from the camera again") from None
    photo = FoundPhoto(
        where="picture",
        file_name=path.name,
        time_s=told.time_s,
        zone_told=told.zone_told,
        gps_time=told.gps_time,
        at=told.at,
        sigma_m=told.sigma_m,
        content=content,
        camera=told.camera,
        ahead_s=told.ahead_s,
        zone_s=told.zone_s,
    )
    return Findings("photo", 1, photos=(photo,), told=_words(photo))


def _words(photo: FoundPhoto) -> tuple[str, ...]:
    if photo.time_s is None and photo.at is None:
        return ("the picture tells neither when nor where it was taken",)
    return ()


def _upright(picture: Any, ops: Any) -> Any:
    try:
        return ops.exif_transpose(picture)
    except (ValueError, SyntaxError, KeyError, TypeError, OverflowError, IndexError):
        return picture  # its metadata is damaged; the picture is not


def _small(picture: Any) -> bytes:
    """Return a JPEG of at most `LONGEST_SIDE` pixels a side; what shows through is white."""
    from PIL import Image

    if picture.mode in ("RGBA", "LA", "PA") or "transparency" in picture.info:
        full = picture.convert("RGBA")
        ground = Image.new("RGBA", full.size, "white")
        picture = Image.alpha_composite(ground, full)
    elif picture.mode.startswith("I;16") or picture.mode in ("I", "F"):
        picture = picture.point(lambda value: value / 256).convert("L")  # sixteen bits to eight
    picture = picture.convert("RGB")
    picture.thumbnail((LONGEST_SIDE, LONGEST_SIDE), Image.Resampling.LANCZOS)
    bare = Image.new("RGB", picture.size)  # carries nothing of the original but its pixels
    bare.paste(picture)
    held = io.BytesIO()
    bare.save(held, "JPEG", quality=QUALITY, optimize=True)
    return held.getvalue()


@dataclass(frozen=True, slots=True)
class _Told:
    """What a picture tells of itself; see `FoundPhoto`."""

    time_s: float | None = None
    zone_told: bool = False
    gps_time: bool = False
    at: LonLat | None = None
    sigma_m: float | None = None
    camera: str = ""
    ahead_s: float | None = None
    zone_s: float = 0.0


def _told_by(picture: Any) -> _Told:
    """Return what the metadata tells; where they are damaged, nothing."""
    try:
        exif = picture.getexif()
        base = dict(exif)
        more, gps = dict(exif.get_ifd(_EXIF_IFD)), dict(exif.get_ifd(_GPS_IFD))
    except Exception:  # noqa: BLE001 - a reader of other people's bytes fails in many ways; none of them loses a picture
        return _Told()
    clock, zone_s = _clock(base, more)
    satellites = _satellite_time(gps)
    at = _position(gps)
    camera = " ".join(part for part in (_text(base.get(_MAKE)), _text(base.get(_MODEL))) if part)
    ahead = None if clock is None or satellites is None else clock - satellites
    return _Told(
        time_s=clock if clock is not None else satellites,
        zone_told=zone_s is not None if clock is not None else satellites is not None,
        gps_time=clock is None and satellites is not None,
        at=at,
        sigma_m=None if at is None else _sigma(gps),
        camera=camera[:120],
        ahead_s=ahead,
        zone_s=zone_s or 0.0,
    )


def _text(value: object) -> str:
    if isinstance(value, bytes):
        value = value.decode("latin-1")
    return value.replace("\0", "").strip() if isinstance(value, str) else ""


def _clock(base: Mapping[int, Any], more: Mapping[int, Any]) -> tuple[float | None, float | None]:
    """Return what the camera's clock said, as if it were UTC unless it names its offset, and that offset (seconds)."""
    text = _text(more.get(_TAKEN)) or _text(base.get(_MOMENT))
    found = _MOMENT_TEXT.match(text)
    if found is None:
        return None, None
    try:
        moment = datetime(*map(int, found.groups()), tzinfo=UTC)  # type: ignore[misc,arg-type]
    except ValueError:
        return None, None
    seconds = moment.timestamp()
    fraction = _text(more.get(_TAKEN_FRACTION))
    if fraction.isascii() and fraction.isdigit():
        seconds += float(f"0.{fraction[:6]}")
    offset = _OFFSET_TEXT.fullmatch(_text(more.get(_TAKEN_OFFSET)) or _text(more.get(_ANY_OFFSET)))
    if offset is None:
        return seconds, None
    if offset[1] is None:
        return seconds, 0.0
    east = int(offset[2]) * 3600 + int(offset[3]) * 60
    if east > 15 * 3600:
        return seconds, None
    east = east if offset[1] == "+" else -east
    return seconds - east, float(east)


def _rational(value: object) -> float:
    """Return a number of the metadata, NaN where it is none."""
    try:
        number = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, ZeroDivisionError, OverflowError):
        return math.nan
    return number if math.isfinite(number) else math.nan


def _three(value: object) -> tuple[float, float, float] | None:
    """Return degrees, minutes and seconds, or hours, minutes and seconds; what is left out is nought."""
    if not isinstance(value, tuple | list) or not 1 <= len(value) <= 3:
        return None
    numbers = [_rational(v) for v in value] + [0.0] * (3 - len(value))
    if any(math.isnan(n) or n < 0 for n in numbers):
        return None
    return numbers[0], numbers[1], numbers[2]


def _satellite_time(gps: Mapping[int, Any]) -> float | None:
    day, clock = _DAY_TEXT.match(_text(gps.get(_DAY))), _three(gps.get(_CLOCK))
    if day is None or clock is None:
        return None
    hours, minutes, seconds = clock
    if hours >= 24 or minutes >= 60 or seconds >= 61:
        return None
    try:
        midnight = datetime(int(day[1]), int(day[2]), int(day[3]), tzinfo=UTC)
    except ValueError:
        return None
    if midnight.year < 1980:  # before there were satellites: a receiver that had no fix
        return None
    return (midnight + timedelta(hours=hours, minutes=minutes, seconds=seconds)).timestamp()


def _position(gps: Mapping[int, Any]) -> LonLat | None:
    lat, lon = _three(gps.get(_LAT)), _three(gps.get(_LON))
    if lat is None or lon is None:
        return None
    north, east = lat[0] + lat[1] / 60 + lat[2] / 3600, lon[0] + lon[1] / 60 + lon[2] / 3600
    if north > 90 or east > 180 or (north == 0 and east == 0):  # noughts are what a receiver without a fix writes
        return None
    south = _text(gps.get(_LAT_REF)).upper().startswith("S")
    west = _text(gps.get(_LON_REF)).upper().startswith("W")
    return (-east if west else east), (-north if south else north)


def _sigma(gps: Mapping[int, Any]) -> float | None:
    """Return the standard deviation of one axis, metres; the error told is taken for a radius that holds 68 %."""
    radius = _rational(gps.get(_WITHIN))
    return radius / RADIUS_68_IN_SIGMAS if 0 < radius <= _MOST_WITHIN_M else None
