"""The slope that is on no list: a walk over it, notes made on the way, a group of stems taped and sighted, a picture.

What a receiver, a watch, a tape and a compass get wrong is invented too, with the sizes that are named here.
"""

from __future__ import annotations

import io
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone
from typing import TYPE_CHECKING, Any
from xml.sax.saxutils import escape

import numpy as np
import shapely

from standmap.survey.frame import WorkingFrame, true_azimuth
from standmap.survey.north import declination

if TYPE_CHECKING:
    from sample_stands.make import Wood
    from sample_stands.plain import XY, degrees, table
else:  # run as a script, its own folder is looked in
    from plain import XY, degrees, table

BEGAN = datetime(2025, 9, 20, 6, 12, tzinfo=UTC)
SUMMER_TIME = timezone(timedelta(hours=3))
TAPED = date(2025, 9, 21)
HALT_S = 45.0
WATCH_AHEAD_S = 14
"""By how much the watch of the notes is ahead."""

_NOTES = {"N05": "closes the loop", "N06": "tie to the next stem"}
"""What is written beside a leg that leads to a known stem."""

TAPE_PART, COMPASS_DEG = 0.008, 1.5
"""Errors of the tape, as a part of the length, and of the compass: one standard deviation."""


@dataclass(frozen=True, slots=True)
class Halt:
    """A birch that was stood at, truly where, and from which second of the walk on."""

    at: XY
    from_s: float


def walk_of(wood: Wood, frame: WorkingFrame, rng: np.random.Generator) -> tuple[bytes, list[Halt]]:
    """Return a GPX file and its halts of 45 s at a dozen birches: noise of 3 m that lasts a minute, a fix a second."""
    halts: list[Halt] = []
    knots: list[tuple[float, float, float]] = []
    clock, here = 0.0, wood.waypoints[0]["at"]
    for halt in _halts(wood, rng):
        knots.append((clock, *here))
        clock += math.dist(here, halt) / float(rng.uniform(0.9, 1.1))
        knots.append((clock, *halt))
        halts.append(Halt(halt, clock))
        clock, here = clock + HALT_S, halt
    knots.append((clock, *here))
    k = np.array(knots)
    t = np.arange(0, math.floor(clock) + 1, dtype=float)
    x = np.interp(t, k[:, 0], k[:, 1]) + _gauss_markov(rng, len(t), 3.0, 60.0)
    y = np.interp(t, k[:, 0], k[:, 2]) + _gauss_markov(rng, len(t), 3.0, 60.0)
    up = 61.0 + 0.06 * (y - y[0]) + _gauss_markov(rng, len(t), 2.0, 120.0)
    lon, lat = frame.to_lonlat(x, y)
    lines = ['<?xml version="1.0" encoding="UTF-8"?>',
             '<gpx version="1.1" creator="a handheld receiver" xmlns="http://www.topografix.com/GPX/1/1">',
             f" <metadata><time>{BEGAN:%Y-%m-%dT%H:%M:%SZ}</time></metadata>"]  # fmt: skip
    for point in wood.waypoints:
        wlon, wlat = degrees(frame, [point["at"]])[0]
        typed = f"<type>{point['kind']}</type>" if "kind" in point else ""
        lines.append(f' <wpt lat="{wlat:.7f}" lon="{wlon:.7f}"><name>{escape(point["name"])}</name>{typed}</wpt>')
    lines += [" <trk>", "  <name>north slope</name>", "  <trkseg>"]
    for second, (a, b, e) in enumerate(zip(lon, lat, up, strict=True)):
        moment = BEGAN + timedelta(seconds=second)
        lines.append(f'   <trkpt lat="{b:.7f}" lon="{a:.7f}"><ele>{e:.1f}</ele>'
                     f"<time>{moment:%Y-%m-%dT%H:%M:%SZ}</time><hdop>0.6</hdop></trkpt>")  # fmt: skip
    lines += ["  </trkseg>", " </trk>", "</gpx>", ""]
    return "\n".join(lines).encode(), halts


def _halts(wood: Wood, rng: np.random.Generator) -> list[XY]:
    """Return twelve places on the unlisted slope, 17 m apart at least, in a sensible order."""
    slope = shapely.Polygon(wood.walk_in)
    west, south, east, north = slope.bounds
    trees = [point["at"] for point in wood.waypoints if "kind" not in point]
    places: list[XY] = []
    while len(places) < 12:
        at = (float(rng.uniform(west, east)), float(rng.uniform(south, north)))
        if slope.contains(shapely.Point(at)) and all(math.dist(at, other) >= 17 for other in (*places, *trees)):
            places.append(at)
    ordered: list[XY] = []
    here = wood.waypoints[0]["at"]
    while places:
        here = min(places, key=lambda p: math.dist(p, here))
        places.remove(here)
        ordered.append(here)
    return ordered


def _gauss_markov(rng: np.random.Generator, count: int, sigma: float, time_s: float) -> np.ndarray:
    kept = math.exp(-1 / time_s)
    noise = rng.normal(0, sigma, count)
    noise[1:] *= math.sqrt(1 - kept**2)
    for i in range(1, count):
        noise[i] += kept * noise[i - 1]
    return noise


def notes_of(halts: Sequence[Halt], rng: np.random.Generator) -> bytes:
    """Return what was noted at each halt, by a watch that goes a little ahead and names no zone."""
    rows = []
    for number, halt in enumerate(halts, start=1):
        moment = BEGAN + timedelta(seconds=round(halt.from_s + float(rng.uniform(12, 30))) + WATCH_AHEAD_S)
        local = moment.astimezone(SUMMER_TIME)
        girth = 640 + round(float(rng.gamma(2.5, 70)))
        note = {2: "old cut, closed", 7: "leans over the path", 11: "two stems from 2 m up"}.get(number, "")
        species = "Betula pubescens" if rng.random() < 0.25 else "Betula pendula"
        rows.append((f"{local:%Y-%m-%d}", f"{local:%H:%M:%S}", f"N{number:02d}", str(girth), species, note))
    return table(("date", "time", "name", "girth_mm", "species", "note"), rows)


def sheet_of(halts: Sequence[Halt], frame: WorkingFrame, rng: np.random.Generator) -> bytes:
    """Return a field sheet: seven stems beside N05, four in a loop, three sighted across it, and a tie to N06.

    One tape was misread by a whole metre, as happens.
    """
    centre = halts[4].at
    ring = [(7.0, 20), (11.5, 65), (12.0, 120), (7.5, 165)]
    inner = [(6.0, 60), (8.0, 92), (5.2, 125)]
    spots: dict[str, XY] = {"N05": centre, "N06": halts[5].at}
    for number, (away, turned) in enumerate((*ring, *inner), start=1):
        way = math.radians(turned + float(rng.normal(0, 4)))
        spots[f"G{number}"] = (centre[0] + away * math.sin(way), centre[1] + away * math.cos(way))
    legs = [("N05", "G1"), ("G1", "G2"), ("G2", "G3"), ("G3", "G4"), ("G4", "N05"),
            ("N05", "G5"), ("G2", "G5"), ("N05", "G6"), ("G3", "G6"), ("G1", "G6"), ("N05", "G7"), ("G4", "G7"),
            ("G3", "N06")]  # fmt: skip
    at = dict(zip(spots, degrees(frame, spots.values()), strict=True))
    declined = declination(*at["N05"], TAPED).deg
    told: set[str] = {"N05", "N06"}
    rows = []
    for start, end in legs:
        level = math.dist(spots[start], spots[end])
        slope = round(math.degrees(math.atan(0.06 * (spots[end][1] - spots[start][1]) / level)) + float(rng.normal()))
        taped = level / math.cos(math.radians(slope)) * (1 + float(rng.normal(0, TAPE_PART)))
        taped += 1.0 if (start, end) == ("G3", "G6") else 0.0
        way = true_azimuth(at[start], at[end]) - declined
        there, back = (round(way + half + float(rng.normal(0, COMPASS_DEG))) % 360 for half in (0, 180))
        new = end not in told
        told.add(end)
        girth = str(610 + round(float(rng.gamma(2.5, 75)))) if new else ""
        note = "" if new else _NOTES.get(end, "second sight")
        rows.append((start, end, f"{there:03d}", f"{back:03d}", f"{taped:.2f}", str(slope), TAPED.isoformat(), girth,
                     "Betula pendula" if new else "", note))  # fmt: skip
    header = ("from", "to", "bearing (magnetic)", "back bearing", "distance (m)", "slope", "date", "girth (mm)",
              "species", "note")  # fmt: skip
    return table(header, rows)


def photo_of(halt: Halt, frame: WorkingFrame, rng: np.random.Generator) -> bytes:
    """Return a small picture of a stem at a halt, drawn in plain shapes, with when and where it was taken."""
    from PIL import Image, ImageDraw

    wide, high = 360, 480
    picture = Image.new("RGB", (wide, high), (203, 214, 205))
    draw = ImageDraw.Draw(picture)
    for _ in range(14):  # other stems, far off
        x, half = int(rng.integers(0, wide)), int(rng.integers(2, 6))
        draw.rectangle((x - half, 0, x + half, 330 + 6 * half), fill=(176, 187, 178))
    draw.rectangle((0, 350, wide, high), fill=(116, 122, 84))
    for _ in range(60):  # grass
        x, y = int(rng.integers(0, wide)), int(rng.integers(356, high))
        draw.line((x, y, x + int(rng.integers(-6, 7)), y - int(rng.integers(6, 18))), fill=(138, 142, 92), width=2)
    draw.polygon([(140, 0), (212, 0), (226, 350), (252, 410), (104, 410), (126, 350)], fill=(234, 231, 222))
    draw.polygon([(196, 0), (212, 0), (226, 350), (252, 410), (206, 410), (204, 350)], fill=(205, 202, 194))
    for _ in range(26):  # dark marks of the bark
        x, y = int(rng.integers(132, 196)), int(rng.integers(8, 392))
        draw.ellipse((x, y, x + int(rng.integers(10, 34)), y + int(rng.integers(3, 9))), fill=(66, 62, 58))
    draw.rounded_rectangle((160, 196, 188, 216), 3, fill=(233, 190, 74), outline=(92, 70, 20))  # its tag
    held = io.BytesIO()
    picture.save(held, "JPEG", quality=72, exif=_exif(halt, frame, rng))
    return held.getvalue()


def _exif(halt: Halt, frame: WorkingFrame, rng: np.random.Generator) -> Any:
    """Return what a camera writes beside a picture: the local time with its zone, and a position good to 4 m."""
    from PIL import ExifTags, Image

    moment = BEGAN + timedelta(seconds=round(halt.from_s + HALT_S / 2))
    local = f"{moment.astimezone(SUMMER_TIME):%Y:%m:%d %H:%M:%S}"
    off_e, off_n = rng.normal(0, 4, 2).tolist()
    ((lon, lat),) = degrees(frame, [(halt.at[0] + off_e, halt.at[1] + off_n)])
    exif = Image.Exif()
    exif[ExifTags.Base.Make], exif[ExifTags.Base.Model] = "invented", "pocket camera"
    exif[ExifTags.Base.DateTime] = local
    taken = exif.get_ifd(ExifTags.IFD.Exif)
    taken[ExifTags.Base.DateTimeOriginal], taken[ExifTags.Base.OffsetTimeOriginal] = local, "+03:00"
    where = exif.get_ifd(ExifTags.IFD.GPSInfo)
    where[ExifTags.GPS.GPSLatitudeRef], where[ExifTags.GPS.GPSLatitude] = "N", _sexagesimal(lat)
    where[ExifTags.GPS.GPSLongitudeRef], where[ExifTags.GPS.GPSLongitude] = "E", _sexagesimal(lon)
    where[ExifTags.GPS.GPSHPositioningError] = 6.0
    return exif


def _sexagesimal(value: float) -> tuple[float, float, float]:
    whole, part = divmod(value, 1)
    minutes, rest = divmod(part * 60, 1)
    return whole, minutes, round(rest * 60, 3)
