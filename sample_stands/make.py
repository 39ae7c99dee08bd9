"""Invents the sample woods and writes them beside this file: `python sample_stands/make.py`.

Each wood becomes a folder of plain files as a person would bring them in: ground, trees, later girths, a GPS walk
with what was noted, taped and pictured beside it (slope.py), the weather of a station near it and what springs showed
(seasons.py), and five seasons of records. Everything is made up: no such wood, owner or birch exists. The same seed
writes the same bytes each time.

Each tree is given a part to play, so that every verdict occurs in 2026 under the cautious rule set.
"""

from __future__ import annotations

import json
import math
import sys
import tomllib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely

from standmap.survey.frame import WorkingFrame

if TYPE_CHECKING:
    from sample_stands.plain import XY, degrees, table
    from sample_stands.seasons import season_files
    from sample_stands.slope import notes_of, photo_of, sheet_of, walk_of
else:  # run as a script, its own folder is looked in
    from plain import XY, degrees, table
    from seasons import season_files
    from slope import notes_of, photo_of, sheet_of, walk_of

SEED = 20260328
WEATHER_SEED = 119
"""So chosen that leaves come four to six weeks after the first tapping and spread over the springs as they do."""

SURVEYED = date(2021, 9, 18)
LAST_DAY = date(2026, 3, 27)
LIMIT_MM = 719
"""The least whole girth that reaches a diameter of 9 in (718.2 mm), the limit of the cautious rule set."""

VESSEL_L = 4.5  # common practice, no source


@dataclass(frozen=True, kw_only=True)
class Wood:
    """What is drawn by hand in woods.toml: metres east and north of the centre.

    Attributes
    ----------
    prefix
        Of the tags.
    parts
        How many trees play which part.
    outside
        Where trees stand beyond the permitted ground.
    walk_in
        A slope whose birches are on no list, to be walked with a receiver.
    station
        Name, place and height of a weather station near the wood.
    """

    folder: str
    prefix: str
    centre: XY
    apart_m: float
    season_days: int
    story: str
    parts: dict[str, int]
    areas: Sequence[dict[str, Any]]
    lines: Sequence[dict[str, Any]]
    places: Sequence[dict[str, Any]]
    outside: Sequence[XY] = ()
    walk_in: Sequence[XY] = ()
    waypoints: Sequence[dict[str, Any]] = ()
    station: dict[str, Any] = field(default_factory=dict)


def woods() -> list[Wood]:
    """Return the woods as they are drawn."""
    drawn = tomllib.loads((Path(__file__).parent / "woods.toml").read_text(encoding="utf-8"))
    return [Wood(**wood) for wood in drawn["wood"]]


@dataclass
class Birch:
    """One listed tree, whatever its species."""

    name: str
    at: XY
    girth_mm: int | None
    species: str = "Betula pendula"
    soundness: str = "sound"
    rootstock: str = ""
    note: str = ""
    tapped: list[int] = field(default_factory=list)
    again_mm: int | None = None


TAPPED = {
    "again": [2022, 2026],
    "fresh": [2026],
    "mistaken": [2024, 2026],
    "rested": [2022],
    "rest 2023": [2023],
    "rest 2024": [2024],
    "clump": [2024],
    "rest 2025": [2025],
}
"""Parts and the seasons in which they are tapped; "mistaken" comes too early, and "clump" is one stem of two.

The other parts: ready (never tapped), grown (too thin in 2021, not so in 2025), thin, unsound, alder, unmeasured,
nameless (species not known), fenced off (in a no-go area), outside, lapsed (where the permission has run out).
"""

FIRST_DAYS = {
    2022: date(2022, 3, 26),
    2023: date(2023, 3, 29),
    2024: date(2024, 3, 19),
    2025: date(2025, 3, 23),
    2026: date(2026, 3, 21),
}


# Trees


def trees_of(wood: Wood, rng: np.random.Generator) -> list[Birch]:
    """Return the listed trees of a wood, tagged from west to east."""
    spots = _Spots(wood, rng)
    trees: list[Birch] = []
    for part, count in wood.parts.items():
        for number in range(count):
            at = wood.outside[number] if part == "outside" else spots.take(part)
            tree = _playing(part, at, rng)
            trees.append(tree)
            if part == "clump":
                # A second stem of the same root, an arm's breadth away; it rests because the first one gave.
                way = rng.uniform(0, 2 * math.pi)
                tree.rootstock = f"R{number + 1}"
                beside = (at[0] + 0.42 * math.cos(way), at[1] + 0.42 * math.sin(way))
                twin = _playing("ready", beside, rng)
                twin.rootstock = tree.rootstock
                trees.append(twin)
    trees.sort(key=lambda t: t.at)
    width = len(str(len(trees)))
    for number, tree in enumerate(trees, start=1):
        tree.name = f"{wood.prefix}{number:0{width}d}"
    return trees


def _playing(part: str, at: XY, rng: np.random.Generator) -> Birch:
    girth = LIMIT_MM + 25 + round(float(rng.gamma(2.5, 75)))
    species = "Betula pendula" if rng.random() < 0.75 else "Betula pubescens"
    tree = Birch("", (round(at[0], 2), round(at[1], 2)), girth, species, tapped=list(TAPPED.get(part, ())))
    match part:
        case "thin":
            tree.girth_mm = round(float(rng.uniform(430, LIMIT_MM - 12)))
        case "grown":
            tree.girth_mm, tree.again_mm = LIMIT_MM - int(rng.integers(6, 16)), LIMIT_MM + int(rng.integers(3, 15))
        case "unsound":
            tree.soundness = "unsound"
            tree.note = str(rng.choice(["conk on the north side", "crack from root to fork", "top broken"]))
        case "alder":
            tree.species = "Alnus glutinosa"
        case "unmeasured":
            tree.girth_mm, tree.soundness = None, ""
        case "nameless":
            tree.species, tree.soundness = "", ""
        case "mistaken":
            tree.note = "tag hangs low: easily misread"
        case "lapsed":
            tree.tapped = [int(rng.choice([2022, 2023, 2025]))] if rng.random() < 0.4 else []
    if part in {"again", "rested", "ready"} and tree.girth_mm is not None and rng.random() < 0.3:
        tree.again_mm = tree.girth_mm + int(rng.integers(20, 45))
    return tree


class _Spots:
    """Hands out places where a tree can stand: apart from each other, from paths, water and the unlisted slope."""

    def __init__(self, wood: Wood, rng: np.random.Generator) -> None:
        self.wood, self.rng = wood, rng
        self.blocks = [shapely.Polygon(a["ring"]) for a in wood.areas if a["kind"] == "permitted"]
        self.patches = [shapely.Polygon(a["ring"]) for a in wood.areas if a["kind"] == "no-go"]
        self.lines = shapely.MultiLineString([line["course"] for line in wood.lines])
        # The slope of the walk, and as much round it as a receiver may be wrong.
        self.slope: shapely.Geometry = shapely.Polygon(wood.walk_in or None).buffer(20)
        self.taken: list[XY] = []

    def take(self, part: str) -> XY:
        """Return the next free place for a tree of this part."""
        ground: shapely.Geometry
        if part == "fenced off":
            ground = self.patches[int(self.rng.integers(len(self.patches)))].buffer(-4)
        else:
            # Well inside, so that no verdict hangs on where exactly the edge runs.
            ground = (self.blocks[1] if part == "lapsed" else self.blocks[0]).buffer(-9)
            ground = ground.difference(shapely.union_all(self.patches).buffer(9)).difference(self.slope)
        west, south, east, north = ground.bounds
        while True:
            at = (float(self.rng.uniform(west, east)), float(self.rng.uniform(south, north)))
            free = all(math.dist(at, other) >= self.wood.apart_m for other in self.taken)
            if free and ground.contains(shapely.Point(at)) and self.lines.distance(shapely.Point(at)) >= 2.5:
                self.taken.append(at)
                return at


# Records


def records_of(trees: Sequence[Birch], wood: Wood, rng: np.random.Generator) -> list[list[str]]:
    """Return the rows of records.csv, by day and hour."""
    rows: list[tuple[date, str, list[str]]] = []
    for season, first in FIRST_DAYS.items():
        runs = _daily_runs(wood.season_days, rng)
        tapped = [t for t in trees if season in t.tapped]
        for place, tree in enumerate(tapped):
            made = first + timedelta(days=place * 2 // max(1, len(tapped)))
            side = _side_of(tree, season, rng)
            minute = 9 * 60 + 6 * place % 400
            note = "tag misread: was to rest until 2028" if tree.note.startswith("tag") and season == 2026 else ""
            wound = ["", f"{rng.integers(85, 111)}", f"{side}", f"{rng.integers(12, 16)}", "10", note]
            rows.append((made, _clock(minute), [tree.name, "", "tapped", *wound, ""]))
            share = float(rng.lognormal(0, 0.25)) * (tree.girth_mm or LIMIT_MM) / 850
            last = made
            for day, run in enumerate(runs, start=1):
                on = made + timedelta(days=day)
                if on > LAST_DAY:
                    break
                last = on
                ran = round(run * share * float(rng.uniform(0.8, 1.2)), 1)
                litres, over = min(VESSEL_L, ran), ran > VESSEL_L
                if litres >= 0.1:
                    text = "vessel full" if litres == VESSEL_L else ""
                    clock = _clock(6 * 60 + 30 + 4 * place % 200)
                    sap = ["collected", f"{litres:.1f}", "", "", "", "", text, "yes" if over else ""]
                    rows.append((on, clock, [tree.name, "", *sap]))
            if season < LAST_DAY.year:
                out = last + timedelta(days=1)
                rows.append((out, _clock(minute), [tree.name, "", "taken out", *[""] * 7]))
                rows.append((out, _clock(minute + 2), [tree.name, "", "plugged", *[""] * 5, "birch plug", ""]))
                if season <= 2023 and rng.random() < 0.6:
                    seen = date(season + 2, 9, 6)
                    rows.append((seen, "", [tree.name, "", "looked at", *[""] * 5, "closed over, bark sound", ""]))
    rows.sort(key=lambda r: (r[0], r[1], r[2][0]))
    return [[cells[0], cells[1], on.isoformat(), clock, *cells[2:]] for on, clock, cells in rows]


def _daily_runs(days: int, rng: np.random.Generator) -> list[float]:
    """Return litres a hole and day: warmer days give more.

    Between the published 0.54-1.37 L at daily means of 3-6 °C and 2.50-6.22 L when it is warm and sunny (Gryazkin
    et al. 2023, Lesnoy Zhurnal 4, 180-189, doi 10.37482/0536-1036-2023-4-180-189; abstract). Below freezing: none.
    """
    warmth = 4.5 + 0.25 * np.arange(days) + np.convolve(rng.normal(0, 2.6, days + 2), np.ones(3) / 1.7, "valid")
    return [float(v) for v in np.interp(warmth, [-0.5, 0.5, 3, 6, 9, 13], [0.0, 0.2, 0.7, 1.5, 3.0, 5.0])]


def _side_of(tree: Birch, season: int, rng: np.random.Generator) -> int:
    """Return a side of the stem; a second hole goes to the far side of the first, well over 20 cm away."""
    seeded = sum(map(ord, tree.name)) * 37 % 360
    return (seeded + (170 + int(rng.integers(0, 21)) if season != tree.tapped[0] else 0)) % 360


def _clock(minutes: int) -> str:
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


# Files


def ground_of(wood: Wood, frame: WorkingFrame) -> bytes:
    """Return ground.geojson: areas, lines and places."""

    def features() -> Iterator[dict[str, object]]:
        for area in wood.areas:
            ring = area["ring"]
            # RFC 7946: exterior rings run counterclockwise and are closed.
            turned = ring if shapely.LinearRing(ring).is_ccw else ring[::-1]
            yield _feature("Polygon", [degrees(frame, [*turned, turned[0]])], area)
        for line in wood.lines:
            yield _feature("LineString", degrees(frame, line["course"]), line)
        for place in wood.places:
            yield _feature("Point", degrees(frame, [place["at"]])[0], place)

    rows = ",\n".join(json.dumps(f, ensure_ascii=False) for f in features())
    return f'{{"type": "FeatureCollection", "features": [\n{rows}\n]}}\n'.encode()


def _feature(shape: str, coordinates: object, drawn: dict[str, Any]) -> dict[str, object]:
    geometry = {"type": shape, "coordinates": coordinates}
    properties = {name: value for name, value in drawn.items() if name not in {"ring", "course", "at"}}
    return {"type": "Feature", "properties": properties, "geometry": geometry}


def files_of(wood: Wood, seed: int = SEED) -> dict[str, bytes]:
    """Return the files of a wood by name."""
    rng = np.random.default_rng([seed, *wood.folder.encode()])
    frame = WorkingFrame(*wood.centre)
    trees = trees_of(wood, rng)
    places = degrees(frame, [t.at for t in trees])
    girthed = [(t.name, str(t.girth_mm or ""), SURVEYED.isoformat() if t.girth_mm else "") for t in trees]
    files = {
        "STORY.md": wood.story.encode(),
        "ground.geojson": ground_of(wood, frame),
        "trees.csv": table(
            ("name", "lon", "lat", "species", "girth_mm", "date", "soundness", "rootstock", "note"),
            (
                (name, f"{lon:.7f}", f"{lat:.7f}", t.species, girth, day, t.soundness, t.rootstock, t.note)
                for t, (lon, lat), (name, girth, day) in zip(trees, places, girthed, strict=True)
            ),
        ),
        "measurements.csv": table(
            ("name", "girth_cm", "date"),
            ((t.name, f"{t.again_mm / 10:.1f}", "2025-09-20") for t in trees if t.again_mm is not None),
        ),
        "records.csv": table(
            (
                "tree",
                "hole",
                "date",
                "time",
                "what",
                "litres",
                "height_cm",
                "side_deg",
                "depth_mm",
                "bit_mm",
                "note",
                "overflowed",
            ),
            records_of(trees, wood, rng),
        ),
    }
    if wood.walk_in:
        files["walk.gpx"], halts = walk_of(wood, frame, rng)
        files["notes.csv"] = notes_of(halts, rng)
        files["field-sheet.csv"] = sheet_of(halts, frame, rng)
        files["stem.jpg"] = photo_of(halts[6], frame, rng)
    if wood.station:
        # Its own chance, so that what else is invented stays as it is.
        own = np.random.default_rng([seed, WEATHER_SEED, *b"weather", *wood.folder.encode()])
        files |= season_files(wood.station, frame, FIRST_DAYS, LAST_DAY, own)
    return files


def make(into: Path) -> list[Path]:
    """Write all woods, each into a folder of its own; return what was written."""
    written = []
    for wood in woods():
        folder = into / wood.folder
        folder.mkdir(parents=True, exist_ok=True)
        for name, content in files_of(wood).items():
            (folder / name).write_bytes(content)
            written.append(folder / name)
    return written


if __name__ == "__main__":
    for path in make(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent):
        print(path)
