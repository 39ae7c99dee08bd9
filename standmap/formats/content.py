"""What a file holds once read: findings that nobody has judged yet. `None` means the file does not say."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from standmap.stand.ground import AreaKind, LineKind, PlaceKind, Ring
from standmap.stand.sights import North
from standmap.stand.tapping import Collection, Observation, TapHole
from standmap.stand.tree import BREAST_HEIGHT_MM, LonLat, Soundness, Standing
from standmap.stand.walks import Fixes


@dataclass(frozen=True, slots=True)
class FoundMeasurement:
    """A girth or diameter as written, canonical beside it; exactly one of the two millimetre values is set."""

    measured_on: date | None
    girth_mm: float | None
    diameter_mm: float | None
    given: str
    given_unit: str
    at_height_mm: float = BREAST_HEIGHT_MM
    note: str = ""
    key: str | None = None


@dataclass(frozen=True, slots=True)
class FoundHole:
    """A wound with its history; the rows carry the keys of the stand that wrote the file, tree keys included."""

    hole: TapHole
    collections: tuple[Collection, ...] = ()


@dataclass(frozen=True, slots=True)
class FoundTree:
    """A tree that a file speaks of, perhaps one already known by `key` or `name`.

    Attributes
    ----------
    where
        Where in the file: "line 7", "feature 3", "waypoint 2".
    at
        Longitude and latitude in degrees, WGS 84; absent in a list of measurements.
    """

    where: str
    name: str | None = None
    key: str | None = None
    at: LonLat | None = None
    species: str | None = None
    standing: Standing | None = None
    standing_since: date | None = None
    soundness: Soundness | None = None
    rootstock: str | None = None
    proposed: bool | None = None
    tag_confirmed: bool | None = None
    pinned: bool | None = None
    var_e_m2: float | None = None
    var_n_m2: float | None = None
    cov_en_m2: float | None = None
    note: str | None = None
    measurements: tuple[FoundMeasurement, ...] = ()
    holes: tuple[FoundHole, ...] = ()
    observations: tuple[Observation, ...] = ()


@dataclass(frozen=True, slots=True)
class FoundPlace:
    """A gate, tank, landmark, hazard, bridge or ford."""

    where: str
    kind: PlaceKind
    at: LonLat
    name: str | None = None
    key: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class FoundLine:
    """A path, stream or fence of at least two positions."""

    where: str
    kind: LineKind
    course: tuple[LonLat, ...]
    name: str | None = None
    key: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class FoundArea:
    """A permitted or no-go area; rings are closed, the outer one first."""

    where: str
    kind: AreaKind
    outline: tuple[Ring, ...]
    name: str | None = None
    key: str | None = None
    owner: str | None = None
    from_date: date | None = None
    until_date: date | None = None
    most_trees: int | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class FoundWalk:
    """A track of at least two fixes."""

    where: str
    fixes: Fixes
    name: str | None = None
    note: str | None = None


@dataclass(frozen=True, slots=True)
class FoundNote:
    """What was written down at a moment of a walk, to be given to the stop of that moment.

    Attributes
    ----------
    time_s
        Seconds since 1970-01-01 UTC; where `zone_told` is false the clock's zone is not known and it is counted as UTC.
    at
        Where the note has a position of its own: a waypoint, which stands among the trees of its file as well.
    tree
        What it says of the tree; its `at` is the note's.
    """

    where: str
    time_s: float
    tree: FoundTree
    zone_told: bool = True
    at: LonLat | None = None


@dataclass(frozen=True, slots=True)
class FoundPhoto:
    """A picture with its moment and perhaps its place, and a small copy of it.

    Attributes
    ----------
    time_s
        Seconds since 1970-01-01 UTC, absent where the picture tells no time; see `zone_told` of a note.
    gps_time
        Whether the time is that of the satellites and so needs no correction.
    at, sigma_m
        Where it was taken and the standard deviation of one axis, where told.
    content
        A small JPEG, turned upright, without the metadata of the original.
    camera
        Make and model: pictures of one camera share its clock.
    ahead_s
        By how many seconds the camera's clock, counted as `time_s` is, was ahead of the satellites' time, where the
        picture tells both.
    zone_s
        East of UTC, seconds, as its clock names it; 0 where it names none.
    """

    where: str
    file_name: str
    time_s: float | None
    zone_told: bool
    gps_time: bool
    at: LonLat | None
    sigma_m: float | None
    content: bytes
    camera: str = ""
    ahead_s: float | None = None
    zone_s: float = 0.0


@dataclass(frozen=True, slots=True)
class FoundSight:
    """A line of a field sheet; names are those of trees, places or new points. Fields as in `stand.sights.Sight`."""

    where: str
    from_name: str
    to_name: str
    toward_name: str | None = None
    bearing_deg: float | None = None
    back_bearing_deg: float | None = None
    north: North | None = None
    distance_m: float | None = None
    given: str = ""
    given_unit: str = ""
    slope_deg: float = 0.0
    along_m: float | None = None
    offset_m: float | None = None
    sigma_deg: float | None = None
    sigma_m: float | None = None
    measured_on: date | None = None
    station: bool = False
    """Whether `to_name`, where it is new, is a mere station and no tree."""
    tree: FoundTree | None = None
    """What else the line says of the tree `to_name`: girth, species."""
    note: str = ""


@dataclass(frozen=True, slots=True)
class FoundDay:
    """One day's weather at a station, by its name or number."""

    where: str
    station: str
    day: date
    least_c: float | None = None
    mean_c: float | None = None
    most_c: float | None = None
    rain_mm: float | None = None
    wind_m_s: float | None = None


@dataclass(frozen=True, slots=True)
class FoundStation:
    """A weather station: what its rows call it, its name, where it stands and how high."""

    station: str
    name: str = ""
    at: LonLat | None = None
    elevation_m: float | None = None


@dataclass(frozen=True, slots=True)
class FoundSign:
    """A day on which a stand showed where the season is."""

    where: str
    what: str
    seen_on: date
    note: str = ""


@dataclass(frozen=True, slots=True)
class Skipped:
    """A feature that could not be used, and why."""

    where: str
    why: str


@dataclass(frozen=True, slots=True, eq=False)
class Findings:
    """All that one file holds.

    Attributes
    ----------
    format
        "gpx", "geojson", "csv", "notes", "field sheet", "photo", "nmea", "weather", "ghcn" or "signs".
    read
        How many features the file has, usable or not.
    told
        What the reader found out and a person should know: encoding, delimiter, unit of a column.
    """

    format: str
    read: int
    trees: tuple[FoundTree, ...] = ()
    places: tuple[FoundPlace, ...] = ()
    lines: tuple[FoundLine, ...] = ()
    areas: tuple[FoundArea, ...] = ()
    walks: tuple[FoundWalk, ...] = ()
    notes: tuple[FoundNote, ...] = ()
    photos: tuple[FoundPhoto, ...] = ()
    sights: tuple[FoundSight, ...] = ()
    weather: tuple[FoundDay, ...] = ()
    stations: tuple[FoundStation, ...] = ()
    signs: tuple[FoundSign, ...] = ()
    skipped: tuple[Skipped, ...] = ()
    told: tuple[str, ...] = ()
