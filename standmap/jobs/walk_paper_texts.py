"""What a walk sheet says: a planned walk in the person's language and units, as values for `formats.walk_sheet`."""

from __future__ import annotations

from datetime import datetime, timedelta
from enum import StrEnum

from standmap.formats.paper_type import isolated
from standmap.formats.walk_sheet_values import Block, North, SheetPart, SheetTrip, Sign, WalkSheet
from standmap.jobs.cautions import TAPPING, WALKING
from standmap.jobs.planned_round import PlannedRound, PlannedTrip, Purpose, Todo
from standmap.jobs.round_hours import hour_told
from standmap.jobs.walk_paper import PaperOptions, Say
from standmap.jobs.walk_paper_ground import Flat, ground_of, signs_of
from standmap.jobs.walk_paper_rows import Rows, columns_of, common_todo, row_for
from standmap.stand.ground import Place, PlaceKind
from standmap.stand.snapshot import Stand
from standmap.stand.tree import LonLat
from standmap.survey.coordinates import decimal_text
from standmap.survey.frame import true_distance
from standmap.survey.north import Declination, declination, footing, wording

BLANK = "_" * 16
LONG_BLANK = "_" * 28


class Fact(StrEnum):
    """What is told at the head of a sheet."""

    DAY = "day"
    WHO = "who walks"
    SETS_OUT = "sets out"
    BACK_BY = "back by"
    FROM = "from"
    IN_ALL = "in all"
    DAYLIGHT = "daylight"


def sheet_of(planned: PlannedRound, stand: Stand, name: str, options: PaperOptions) -> WalkSheet:
    """Return everything that stands on the sheet of a walk, in the person's language and units."""
    return _Composing(planned, stand, name, options).sheet()


class _Composing:
    """Says everything that stands on one sheet."""

    def __init__(self, planned: PlannedRound, stand: Stand, name: str, options: PaperOptions) -> None:
        self._planned, self._stand = planned, stand
        self._name = isolated(" ".join(name.split()))
        self._say, self._units = options.say, options.units
        self._north, self._no_north = _north_of(planned)
        self._magnetic_wanted = options.magnetic
        self._flat = Flat.of(stand, planned)
        self._stops = [stop for trip in planned.trips for stop in trip.stops]
        self._said_once = common_todo(self._stops)
        self._own_todo = any(todo not in self._said_once for stop in self._stops for todo in stop.todo)
        self._row = row_for(planned.purpose, own_todo=self._own_todo)
        self._rows = Rows(
            row=self._row,
            purpose=planned.purpose,
            day=planned.day,
            flat=self._flat,
            units=self._units,
            say=self._say,
            magnetic=self._north if options.magnetic else None,
            said_once=self._said_once,
        )

    def sheet(self) -> WalkSheet:
        """Return the whole sheet."""
        say = self._say
        planned = self._planned
        collectors = sorted({trip.collector for trip in planned.trips})
        ground = ground_of(self._stand, planned, self._flat)
        letter, text = say("N"), say(wording(self._north)) if self._north else say(self._no_north)
        return WalkSheet(
            title=f"{self._name} · {say(str(planned.purpose))} · {say(planned.day.isoformat())}",
            parts=tuple(self._part(who, collectors) for who in collectors),
            columns=columns_of(self._row, self._units, say),
            ground=ground,
            north=North(letter, None if self._north is None else self._north.deg, text),
            emergency=self._emergency(),
            cautions=Block(say("take care"), tuple(map(self._told, _cautions(planned)))),
            at_each_stop=Block(self._when(), tuple(map(self._with_source, self._said_once))),
            last=self._last(),
            legend={
                Sign.STOP: say("a stop and its number"),
                Sign.WALK: say("the walk"),
                **{sign: say(str(sign)) for sign in signs_of(ground)},
                **({Sign.TREE: say("another tree")} if ground.trees else {}),
            },
            scale_note=say("when printed at 100 %"),
        )

    def _told(self, sentence: str) -> str:
        """Return a job's sentence in the person's language and units."""
        return self._units.in_sentence(self._say(sentence))

    def _when(self) -> str:
        """Return what stands over what is done at each stop: what is asked of the single tree comes first."""
        return self._say("at each stop, once its own row is ticked" if self._own_todo else "at each stop")

    def _with_source(self, todo: Todo) -> str:
        return f"{self._told(todo.text)} ({self._say(todo.source)})" if todo.source else self._told(todo.text)

    def _part(self, who: int, collectors: list[int]) -> SheetPart:
        say = self._say
        trips = [trip for trip in self._planned.trips if trip.collector == who]
        title = f"{self._name}: {say(str(self._planned.purpose))}"
        foot = f"{self._name} · {say(str(self._planned.purpose))} · {say(self._planned.day.isoformat())}"
        if len(collectors) > 1:
            named = say(f"collector {who} of {len(collectors)}")
            title, foot = f"{title}, {named}", f"{foot} · {named}"
        return SheetPart(title, foot, self._facts(trips), tuple(self._trip(trip) for trip in trips))

    def _facts(self, trips: list[PlannedTrip]) -> tuple[tuple[str, str], ...]:
        """Return what stands at the head of a part."""
        say, planned = self._say, self._planned
        begun = min(trip.sets_out_min for trip in trips)
        length_m, minutes = sum(t.length_m for t in trips), sum(t.minutes for t in trips)
        stops, long = sum(len(t.stops) for t in trips), (self._units.distance(length_m), f"{minutes:.0f} min")
        facts = [
            (Fact.DAY, say(planned.day.isoformat())),
            (Fact.WHO, isolated(trips[0].who) or LONG_BLANK),
            (Fact.SETS_OUT, self._clock(begun) or BLANK),
            (Fact.BACK_BY, self._hour(planned.back_by) or BLANK),
            (Fact.FROM, isolated((trips[0].start or planned.start).name)),
            (Fact.IN_ALL, ", ".join((_stops(stops, say), _trips(len(trips), say), *long))),
        ]
        light = self._light()
        if light:
            facts.append((Fact.DAYLIGHT, light))
        return tuple((say(str(title)), text) for title, text in facts)

    def _light(self) -> str:
        light = self._planned.light
        if light is None:
            return ""
        told = [
            (light.civil_dawn, f"first light {_hours(light.civil_dawn)}"),
            (light.sunrise, f"sunrise {_hours(light.sunrise)}"),
            (light.sunset, f"sunset {_hours(light.sunset)}"),
            (light.civil_dusk, f"last light {_hours(light.civil_dusk)}"),
            (light.lamp_until, f"lamp needed until {_hours(light.lamp_until)}"),
        ]
        return ", ".join(self._say(text) for at, text in told if at is not None)

    def _clock(self, minutes: float) -> str:
        begun = self._planned.sets_out
        return "" if begun is None else self._hour(begun + timedelta(minutes=minutes))

    def _hour(self, at: datetime | None) -> str:
        """Return an hour of the walk; where it goes on past midnight with the day."""
        begun = self._planned.sets_out
        return "" if at is None else hour_told(at, self._planned.day if begun is None else begun.date())

    def _trip(self, trip: PlannedTrip) -> SheetTrip:
        say, planned = self._say, self._planned
        parts = [say(f"trip {trip.number}")]
        at = self._clock(trip.sets_out_min)
        if at:
            parts.append(f"{say('sets out')} {at}, {isolated((trip.start or planned.start).name)}")
        parts += [self._units.distance(trip.length_m), f"{trip.minutes:.0f} min"]
        if trip.max_load_kg > 0:
            parts.append(say(f"at most {self._units.mass(trip.max_load_kg)} carried"))
        end = trip.end or trip.start or planned.start
        home = f"{say('back to')} {isolated(end.name)}"  # what somebody called a place is not translated
        if trip.home_m > 0:
            home = f"{home}: {self._units.distance(trip.home_m)}"
        if planned.purpose is Purpose.COLLECTING:
            home = f"{home} · {say('poured out there')}: {BLANK} {self._units.volume_unit}"
        return SheetTrip(
            head=" · ".join(parts),
            end=home,
            legs=self._flat.legs(trip),
            stops=tuple(self._rows.stop(stop) for stop in trip.stops),
        )

    def _emergency(self) -> Block:
        say, planned = self._say, self._planned
        gate = gate_near(self._stand, planned.start.at) or planned.start
        return emergency(gate.name, gate.at, say, planned.contact.strip(), self._hour(planned.back_by))

    def _last(self) -> tuple[Block, ...]:
        say, planned = self._say, self._planned
        kit = tuple(
            (f"{line.count} × " if line.count is not None else "")
            + self._told(line.what)
            + (f" ({self._told(line.note)})" if line.note else "")
            for line in planned.kit
        )
        left_out = tuple(f"{isolated(tree)}: {self._told(why)}" for tree, why in planned.left_out)
        return (
            Block(say("to take along"), kit, ticked=True),
            Block(say("left out"), left_out),
            Block(say("what the figures rest on"), tuple(self._told(note) for note in self._notes())),
        )

    def _notes(self) -> list[str]:
        """Return what is assumed, in English."""
        notes = [*self._planned.notes]
        once = {todo.source for todo in self._said_once}
        sources = dict.fromkeys(todo.source for stop in self._stops for todo in stop.todo)
        notes += [source for source in sources if source and source not in once]
        notes.append("a bearing is that of the first stretch of a way; where that bends, the map shows how it goes on")
        if self._north is not None:
            notes.append(f"{wording(self._north)} ({footing(self._north)})")
        elif self._magnetic_wanted:
            notes.append(f"bearings are true: {self._no_north}")
        return notes


def _north_of(planned: PlannedRound) -> tuple[Declination | None, str]:
    """Return where a compass points at the start on the day, or why that is not known."""
    from standmap.errors import UserError

    try:
        return declination(*planned.start.at, planned.day), ""
    except UserError as error:
        return None, error.what


def _cautions(planned: PlannedRound) -> tuple[str, ...]:
    more = TAPPING if planned.purpose is Purpose.TAPPING else ()
    return tuple(dict.fromkeys((*planned.cautions, *more, *WALKING)))


def emergency(met: str, at: LonLat, say: Say, contact: str = "", back: str = "") -> Block:
    """Return what stands in the heavy frame: whom to call, where help is met, and who knows; blanks to write in."""
    return Block(
        say("in an emergency: call 112 or the local number"),
        (
            f"{say('local number')}: {LONG_BLANK}",
            f"{say('where help is met')}: {isolated(met)}, {decimal_text(*at)} (WGS 84)",
            f"{say('who knows of this walk')}: {contact or LONG_BLANK}",
            say(f"back by {back or BLANK}; who knows of this walk calls for help when nobody is back by then"),
        ),
    )


def gate_near(stand: Stand, at: LonLat) -> Place | None:
    """Return where help is met: the gate nearest to a position, if there is one."""
    gates = [place for place in stand.places if place.kind is PlaceKind.GATE]
    return min(gates, key=lambda gate: true_distance(gate.at, at), default=None)


def _hours(at: datetime | None) -> str:
    return "" if at is None else f"{at:%H:%M}"


def _stops(n: int, say: Say) -> str:
    return say("1 stop" if n == 1 else f"{n} stops")


def _trips(n: int, say: Say) -> str:
    return say("1 trip" if n == 1 else f"{n} trips")
