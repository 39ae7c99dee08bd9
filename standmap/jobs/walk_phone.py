"""A planned walk as a page for a phone: said in the person's language and units, then built by `formats.phone_page`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from standmap.errors import UserError
from standmap.formats.phone_page import (
    Course,
    PhoneGround,
    PhonePlace,
    PhoneStop,
    PhoneTrip,
    PhoneUnit,
    PhoneWalk,
    phone_page,
)
from standmap.formats.phone_words import PHONE_WORDS
from standmap.formats.records_csv import MOST_BIT_MM, MOST_DEPTH_MM, MOST_HEIGHT_CM, MOST_LITRES, MOST_TRIP_LITRES
from standmap.jobs.cautions import TAPPING, WALKING
from standmap.jobs.language import said_in, spoken
from standmap.jobs.planned_round import PlannedRound, PlannedTrip, Purpose, RoundStop
from standmap.jobs.rule_choice import rules_of
from standmap.rules.ruleset import RuleSet
from standmap.settings import Settings
from standmap.stand.ground import AreaKind, LineKind, PlaceKind
from standmap.stand.snapshot import Stand
from standmap.survey.north import declination
from standmap.units import ML_PER, MM_PER
from standmap.units_shown import M_PER, System, UnitsShown

OPENINGS = frozenset({PlaceKind.BRIDGE, PlaceKind.FORD, PlaceKind.GATE})
"""Places at which water or a fence may be crossed."""

_EIGHTHS = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
_VOLUME_KEYS = {System.METRIC: "l", System.IMPERIAL: "imp_gal", System.US: "us_gal"}


@dataclass(frozen=True, slots=True)
class PhoneOptions:
    """How a walk is put on a phone.

    Attributes
    ----------
    language
        Its code, for numbers and days, such as "de".
    magnetic
        Whether bearings are told as a compass shows them on the day of the walk.
    say
        Turns a finished English sentence into that language; the window's `said` is one.
    """

    language: str = "en"
    units: UnitsShown = field(default_factory=UnitsShown)
    magnetic: bool = False
    say: Callable[[str], str] = str


def phone_options(settings: Settings) -> PhoneOptions:
    """Return how a person has set it."""
    language = spoken(settings.language)
    return PhoneOptions(
        language=language.code,
        units=UnitsShown(System(settings.units), language.decimal_mark),
        magnetic=settings.bearings == "magnetic",
        say=said_in(language),
    )


def walk_phone(planned: PlannedRound, stand: Stand, plan_key: str, options: PhoneOptions | None = None) -> str:
    """Return the page of a planned round: one HTML text, to be written in UTF-8.

    Parameters
    ----------
    stand
        For the ground under the walk.
    plan_key
        Of the walk as it was given out (`GivenWalk.key`): what the phone brings home names it.
    """
    options = options or PhoneOptions()
    say = options.say

    def told(sentence: str) -> str:
        return options.units.in_sentence(say(sentence))

    turn_deg = _turn_deg(planned) if options.magnetic else None
    light = planned.light
    return phone_page(
        PhoneWalk(
            plan_key=plan_key,
            purpose=str(planned.purpose),
            day=planned.day,
            language=options.language,
            start=planned.start.name,
            start_at=planned.start.at,
            trips=tuple(_trip(trip, planned, told, options.units) for trip in planned.trips),
            ground=_ground(stand, planned),
            units=_units(options.units, rules_of(stand)),
            words={name: say(text) for name, text in PHONE_WORDS.items()},
            turn_deg=turn_deg or 0.0,
            north="true" if turn_deg is None else "magnetic",
            back_by=planned.back_by,
            contact=planned.contact,
            sunrise=None if light is None else light.sunrise,
            sunset=None if light is None else light.sunset,
            kit=tuple((told(line.what), line.count, told(line.note)) for line in planned.kit),
            cautions=tuple(map(told, _cautions(planned))),
            notes=tuple(map(told, planned.notes)),
            left_out=tuple((name, told(why)) for name, why in planned.left_out),
        )
    )


def _turn_deg(planned: PlannedRound) -> float | None:
    try:
        return declination(*planned.start.at, planned.day).deg
    except UserError:  # a day that no edition of the model covers: bearings stay true, and say so
        return None


def _cautions(planned: PlannedRound) -> tuple[str, ...]:
    more = TAPPING if planned.purpose is Purpose.TAPPING else ()
    return tuple(dict.fromkeys((*planned.cautions, *more, *WALKING)))


def _trip(trip: PlannedTrip, planned: PlannedRound, told: Callable[[str], str], units: UnitsShown) -> PhoneTrip:
    return PhoneTrip(
        number=trip.number,
        collector=trip.collector,
        end=(trip.end or trip.start or planned.start).name,
        stops=tuple(_stop(stop, told, units) for stop in trip.stops),
        home=trip.home_course,
        who=trip.who,
    )


def _stop(stop: RoundStop, told: Callable[[str], str], units: UnitsShown) -> PhoneStop:
    about = []
    hole = stop.hole
    if hole is not None and hole.height_mm is not None:
        about.append(f"{told('hole above ground')}: {units.height(hole.height_mm)}")
    if hole is not None and hole.side_deg is not None:
        about.append(
            f"{told('side of the stem')}: {told(_EIGHTHS[round(hole.side_deg / 45) % 8])} ({hole.side_deg:.0f}°)"
        )
    return PhoneStop(
        key=stop.key,
        order=stop.order,
        name=stop.tree.name,
        hole=stop.hole_number,
        at=stop.tree.at,
        litres=stop.litres,
        high_l=max(stop.high_l, stop.litres),
        leg=stop.course,
        about=tuple(about),
        todo=tuple((told(one.text), told(one.source)) for one in stop.todo),
        cautions=tuple(map(told, stop.cautions)),
        full_at=stop.full_at,
    )


def _ground(stand: Stand, planned: PlannedRound) -> PhoneGround:
    def lines(kind: LineKind) -> tuple[Course, ...]:
        return tuple(line.course for line in stand.lines if line.kind is kind)

    def areas(kind: AreaKind) -> tuple[tuple[Course, ...], ...]:
        return tuple(area.outline for area in stand.areas if area.kind is kind)

    places = {place.key: place for place in (*stand.places, planned.start)}
    return PhoneGround(
        paths=lines(LineKind.PATH),
        streams=lines(LineKind.STREAM),
        fences=lines(LineKind.FENCE),
        permitted=areas(AreaKind.PERMITTED),
        no_go=areas(AreaKind.NO_GO),
        places=tuple(PhonePlace(p.name, str(p.kind), p.at, p.kind in OPENINGS) for p in places.values()),
    )


def _units(units: UnitsShown, rules: RuleSet) -> dict[str, PhoneUnit]:
    metric = units.system is System.METRIC
    volume, far = _VOLUME_KEYS[units.system], units.distance_unit
    litres = float(ML_PER[volume]) / 1000
    # Wood is drilled to whole millimetres or eighths of an inch, with bits in halves or sixteenths.
    height_step, depth_step, bit_step = (5.0, 1.0, 0.5) if metric else (2.0, 0.125, 0.0625)

    def stem(unit: str, step: float, digits: int, most_mm: float, ruled: str, first: str) -> PhoneUnit:
        per = float(MM_PER[unit])
        low, high = (rules.figures.get(f"{ruled}_{end}_mm") for end in ("least", "most"))
        likely = rules.figures.get(first)
        return PhoneUnit(
            unit=unit,
            key="mm",
            per=per,
            step=step,
            digits=digits,
            most=most_mm / per,
            first=0.0 if likely is None else likely.value / per,
            rule_least=None if low is None else low.value / per,
            rule_most=None if high is None else high.value / per,
        )

    return {
        "volume": PhoneUnit(
            unit=units.volume_unit,
            key=volume,
            per=litres,
            step=0.5 if metric else 0.1,
            digits=1 if metric else 2,
            most=MOST_LITRES / litres,
            most_trip=MOST_TRIP_LITRES / litres,
        ),
        "distance": PhoneUnit(far, far, float(M_PER[far]), 1.0, 0),
        "height": stem(units.height_unit, height_step, 0, MOST_HEIGHT_CM * 10, "hole_height", "hole_height_least_mm"),
        "depth": stem(
            units.depth_unit, depth_step, 0 if metric else 3, MOST_DEPTH_MM, "hole_depth", "hole_depth_least_mm"
        ),
        "bit": stem(units.depth_unit, bit_step, 1 if metric else 4, MOST_BIT_MM, "hole_width", "hole_width_mm"),
    }
