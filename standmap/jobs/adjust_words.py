"""What an adjustment found, in sentences: which readings disagree and what would fit, what hangs on nothing, loops."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from standmap.jobs.adjust_basis import Observation, point_of
from standmap.stand.sights import Origin, Sight
from standmap.stand.walks import Stop

if TYPE_CHECKING:
    from standmap.survey.hanging import Hanging
    from standmap.survey.network import Found, Judged
    from standmap.survey.traverse import Loop

Names = Mapping[str, str]

MOST_NAMED = 8
GROSS_SIGMAS = 4.0
"""A loop that closes by more standard deviations than this holds a blunder rather than bad luck (normal errors: once
in three thousand loops)."""


def metres(value: float) -> str:
    """Return a length with as many decimals as say something."""
    return f"{value:.2f} m" if abs(value) < 1 else f"{value:.1f} m" if abs(value) < 100 else f"{value:.0f} m"


def listed(names: Sequence[str]) -> str:
    """Return names in a row, of many the first ones."""
    if len(names) <= MOST_NAMED:
        return ", ".join(names)
    return f"{', '.join(names[:MOST_NAMED])} and {len(names) - MOST_NAMED} more"


def observation_words(observation: Observation, names: Names, walks: Names) -> str:
    """Return what was measured: "the sight from B4 to B7 (line 12)"."""
    if isinstance(observation, Sight):
        start, end = _name(names, observation.from_key), _name(names, observation.to_key)
        if observation.toward_key is not None:
            return f"the offset from {start} to {end}{_line(observation)}"
        return f"the sight from {start} to {end}{_line(observation)}"
    name = _name(names, point_of(observation))
    if isinstance(observation, Stop):
        walk = walks.get(observation.walk_key, "")
        return f"the stop at {name} ({walk})" if walk else f"the stop at {name}"
    match observation.origin:
        case Origin.WAYPOINT:
            return f"the waypoint of {name}"
        case Origin.PHOTO:
            return f"the picture of {name}"
        case Origin.LIVE:
            return f"the position taken on the spot of {name}"
        case Origin.GIVEN:
            return f"the given position of {name}"


def disagreement_words(
    judged: Judged, observation: Observation, found: Mapping[str, Found], names: Names, walks: Names
) -> str:
    """Return in what a reading disagrees with all others, by how much, and what would fit."""
    from standmap.survey.readings import What

    reading = judged.reading
    if isinstance(observation, Sight):
        ends = f"from {_name(names, reading.ends[0])} to {_name(names, reading.ends[1])}{_line(observation)}"
        if reading.what is What.BEARING:
            there, back = observation.bearing_deg, observation.back_bearing_deg
            fit = f"{_fit_deg(there, judged.off)}" if there is not None else f"{_fit_deg(back, judged.off)} back"
            return f"the bearing {ends} is {abs(judged.off):.0f}° off what the others say: {fit} would fit"
        if reading.what is What.DISTANCE:
            length = (observation.distance_m or 0.0) + judged.off / math.cos(math.radians(observation.slope_deg))
            off = f"{metres(abs(judged.off))} too {'short' if judged.off > 0 else 'long'}"
            return f"the distance {ends} is {off} by what the others say: {metres(max(length, 0.0))} would fit"
        return f"the offset {ends} is {metres(judged.off)} off what the others say: {_fit_offset(observation, found)}"
    name = _name(names, reading.ends[0])
    what = observation_words(observation, names, walks)
    return f"{what} lies {metres(judged.off)} from where the others put {name}"


def _line(sight: Sight) -> str:
    return f" ({sight.written_at})" if sight.written_at else ""


def _fit_deg(read_deg: float | None, off_deg: float) -> str:
    return f"{((read_deg or 0.0) + off_deg) % 360:.0f}°".replace("360°", "0°")


def _fit_offset(sight: Sight, found: Mapping[str, Found]) -> str:
    start, end, at = (found[key].xy for key in (sight.from_key, sight.toward_key or "", sight.to_key))
    base = math.dist(start, end) or 1.0
    east, north = (end[0] - start[0]) / base, (end[1] - start[1]) / base
    ray = at[0] - start[0], at[1] - start[1]
    along, right = ray[0] * east + ray[1] * north, ray[0] * north - ray[1] * east
    return f"{metres(along)} along and {metres(abs(right))} {'right' if right >= 0 else 'left'} would fit"


def hanging_words(hanging: Hanging, names: Names) -> str:
    """Return what is not tied down, and what would tie it."""
    from standmap.survey.hanging import Lack

    called = [_name(names, key) for key in hanging.points]
    one = len(called) == 1
    if hanging.lack is Lack.NOTHING:
        if one:
            return f"{called[0]} hangs on nothing: add one fix or one tie"
        return f"these {len(called)} hang on nothing: add one fix or one tie: {listed(called)}"
    if hanging.lack is Lack.TURN:
        if one:
            return f"{called[0]} can still swing about: add a bearing, another tape or a fix"
        return f"these {len(called)} can still turn or slide together: add a bearing or a fix: {listed(called)}"
    return f"{called[0]} could as well lie on the other side of its two tapes: add a bearing, a third tape or a fix"


def loop_words(loop: Loop, names: Names) -> str:
    """Return how a loop closes."""
    way = listed([_name(names, key) for key in loop.points])
    off, length = metres(loop.closure.off_m), metres(loop.closure.length_m)
    usual = metres(loop.sigma_m)
    if is_gross(loop):
        return f"the loop {way} closes {off} off over {length}, where {usual} is usual: one of its sights is wrong"
    return f"the loop {way} closes {off} off over {length}, {usual} is usual"


def is_gross(loop: Loop) -> bool:
    """Return whether a loop closes so badly that one of its sights must be wrong."""
    return loop.closure.off_m > GROSS_SIGMAS * max(loop.sigma_m, 0.05)


def walk_words(name: str, east_m: float, north_m: float) -> str:
    """Return by how much a walk lay off."""
    ways = way_words(east_m, north_m)
    return f"{name} lay off by {ways}" if ways else f"{name}: no shift of its own shows"


def way_words(east_m: float, north_m: float) -> str:
    """Return how far something lies to which sides: "2.1 m east, 0.40 m south"; nothing where it lies right."""
    east, north = metres(abs(east_m)), metres(abs(north_m))
    ways = [f"{east} east" if east_m > 0 else f"{east} west"] if abs(east_m) >= 0.005 else []
    ways += [f"{north} north" if north_m > 0 else f"{north} south"] if abs(north_m) >= 0.005 else []
    return ", ".join(ways)


def _name(names: Names, key: str) -> str:
    return names.get(key, key)
