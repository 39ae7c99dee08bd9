"""What the properties of a GeoJSON feature say of a tree, its measurements, its wounds and their history."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any, TypeVar

from standmap.formats.content import FoundHole, FoundMeasurement, FoundTree
from standmap.formats.faults import Unusable, shown
from standmap.formats.places_on_earth import covariance
from standmap.formats.quantities import (
    HEIGHT_COLUMNS,
    THICKNESS_COLUMNS,
    Thickness,
    as_given,
    measured,
    plain,
)
from standmap.formats.texts import day_of, kind_of, line_of, moment_of, name_of, note_of
from standmap.stand.tapping import Act, Collection, Observation, TapHole, Wound
from standmap.stand.tree import LonLat, Soundness, Standing
from standmap.units import to_mm

_Kind = TypeVar("_Kind", bound=StrEnum)


def identity(value: Any, what: str) -> str | None:
    """Return an id, which JSON lets be a text or a number.

    Raises
    ------
    Unusable
        If it is something else.
    """
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise Unusable(f"property '{what}' is neither a text nor a number")
    return name_of(value if isinstance(value, str) else _digits(value), what)


def _digits(value: float) -> str:
    try:
        return repr(value)
    except ValueError:  # a whole number of thousands of digits
        raise Unusable("a number has too many digits") from None


class Properties:
    """The members of a JSON object, each read as what it should be; null is the same as absent.

    Every method raises `Unusable`, naming the property, if it holds something else.
    """

    def __init__(self, values: Mapping[str, Any], place: str = "") -> None:
        self._values = values
        self._place = place

    def _wrong(self, name: str, should: str) -> Unusable:
        return Unusable(f"property '{self.path(name)}' is not {should}")

    def path(self, name: str) -> str:
        """Return the name of a property with the place of the object that holds it."""
        return f"{self._place}{name}"

    def has(self, name: str) -> bool:
        """Return whether something stands there."""
        return self._values.get(name) is not None

    def names(self) -> Iterator[str]:
        """Yield the names of the properties that hold something."""
        return (name for name in self._values if self.has(name))

    def text(self, name: str) -> str | None:
        """Return a text as it stands."""
        value = self._values.get(name)
        if value is not None and not isinstance(value, str):
            raise self._wrong(name, "a text")
        return value

    def line(self, name: str) -> str | None:
        """Return a text as one trimmed line."""
        return line_of(self.text(name) or "") or None

    def note(self, name: str) -> str | None:
        """Return a text that may have several lines."""
        return note_of(self.text(name) or "") or None

    def name(self, name: str) -> str | None:
        """Return a name or an id, which may stand there as a number."""
        return identity(self._values.get(name), self.path(name))

    def needed(self, name: str) -> str:
        """Return a name that must be there."""
        value = self.name(name)
        if value is None:
            raise Unusable(f"property '{self.path(name)}' is missing")
        return value

    def flag(self, name: str) -> bool | None:
        """Return true or false."""
        value = self._values.get(name)
        if value is not None and not isinstance(value, bool):
            raise self._wrong(name, "true or false")
        return value

    def exact(self, name: str) -> Decimal | None:
        """Return a finite number with the digits that stand there."""
        value = self._values.get(name)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self._wrong(name, "a number")
        number = Decimal(value) if isinstance(value, int) else Decimal(repr(value))
        if not number.is_finite() or math.isinf(float(number)):
            raise self._wrong(name, "a finite number")
        return number

    def number(self, name: str, *, least: float = -math.inf, most: float = math.inf) -> float | None:
        """Return a finite number within bounds, both included."""
        exact = self.exact(name)
        if exact is None:
            return None
        if not least <= float(exact) <= most:
            raise self._wrong(name, f"a number within {least:g} and {most:g}")
        return float(exact)

    def whole(self, name: str, *, least: int) -> int | None:
        """Return a whole number no smaller than `least` and no longer than nine digits."""
        exact = self.exact(name)
        if exact is None:
            return None
        if exact != exact.to_integral_value() or not least <= exact < 10**9:
            raise self._wrong(name, f"a whole number from {least} on")
        return int(exact)

    def day(self, name: str) -> date | None:
        """Return a day."""
        text = self.line(name)
        return day_of(text, self.path(name)) if text else None

    def needed_day(self, name: str) -> date:
        """Return a day that must be there."""
        day = self.day(name)
        if day is None:
            raise Unusable(f"property '{self.path(name)}' is missing")
        return day

    def moment(self, name: str) -> datetime | None:
        """Return a moment with its offset."""
        text = self.line(name)
        return moment_of(text, self.path(name)) if text else None

    def kind(self, name: str, kinds: type[_Kind], *, but: frozenset[_Kind] = frozenset()) -> _Kind | None:
        """Return one of some kinds."""
        text = self.line(name)
        return kind_of(kinds, text, self.path(name), but=but) if text else None

    def objects(self, name: str) -> Iterator[Properties]:
        """Yield the objects of an array."""
        value = self._values.get(name)
        if value is None:
            return
        if not isinstance(value, list):
            raise self._wrong(name, "an array")
        for number, item in enumerate(value, start=1):
            if not isinstance(item, dict):
                raise self._wrong(name, "an array of objects")
            yield Properties(item, f"{self._place}{name} {number}: ")


def read_tree(where: str, at: LonLat, properties: Properties, key: str | None) -> FoundTree:
    """Read a tree with all that belongs to it.

    Raises
    ------
    Unusable
        If a property holds what it should not.
    """
    holes = tuple(_hole(item, key) for item in properties.objects("holes"))
    known = frozenset(found.hole.key for found in holes)
    if len(known) < len(holes):
        raise Unusable("property 'holes' holds one id twice")
    var_e, var_n, cov_en = covariance(*(properties.number(name) for name in ("var_e_m2", "var_n_m2", "cov_en_m2")))
    return FoundTree(
        where,
        name=properties.name("name"),
        key=key,
        at=at,
        species=properties.name("species"),
        standing=properties.kind("standing", Standing, but=frozenset({Standing.MERGED})),
        standing_since=properties.day("standing_since"),
        soundness=properties.kind("soundness", Soundness),
        rootstock=properties.name("rootstock"),
        proposed=properties.flag("proposed"),
        tag_confirmed=properties.flag("tag_confirmed"),
        pinned=properties.flag("pinned"),
        var_e_m2=var_e,
        var_n_m2=var_n,
        cov_en_m2=cov_en,
        note=properties.note("note"),
        measurements=_measurements(properties),
        holes=holes,
        observations=tuple(_observation(item, key, known) for item in properties.objects("observations")),
    )


def _measurements(properties: Properties) -> tuple[FoundMeasurement, ...]:
    """Return the measurements of the array, and those in the tree's own properties that it does not hold."""
    listed = [found for item in properties.objects("measurements") for found in _listed(item)]
    values = {(m.girth_mm, m.diameter_mm, m.measured_on) for m in listed}
    flat = (m for m in _flat(properties) if (m.girth_mm, m.diameter_mm, m.measured_on) not in values)
    return (*listed, *flat)


def _listed(item: Properties) -> tuple[FoundMeasurement]:
    found = _flat(item)
    if len(found) != 1:
        raise Unusable(f"property '{item.path('girth_mm')}' or diameter_mm must be there, and only one of them")
    words = as_given(found[0], item.line("given"), item.line("given_unit"))
    return (replace(words, note=item.note("note") or "", key=item.name("id")),)


def _flat(properties: Properties) -> tuple[FoundMeasurement, ...]:
    """Return the girth and the diameter that an object holds under whichever names."""
    day = properties.day("measured_on") or properties.day("date")
    height_mm = None
    named: dict[Thickness, tuple[str, Decimal, str]] = {}
    for name in properties.names():
        short = plain(name)
        if short in HEIGHT_COLUMNS:
            unit = HEIGHT_COLUMNS[short]
            height = properties.exact(name) if unit is not None else None
            height_mm = to_mm(height, unit) if unit is not None and height is not None else height_mm
        elif short in THICKNESS_COLUMNS:
            thickness, unit = THICKNESS_COLUMNS[short]
            number = properties.exact(name)
            if unit is None:
                raise Unusable(f"property '{properties.path(name)}' has no unit; call it {short}_mm or {short}_cm")
            if thickness in named:
                raise Unusable(f"properties '{named[thickness][0]}' and '{name}' both give the {thickness}")
            if number is not None:
                named[thickness] = name, number, unit
    return tuple(
        measured(
            thickness,
            number,
            unit,
            what=properties.path(name),
            given=str(number),
            measured_on=day,
            at_height_mm=height_mm,
        )
        for thickness, (name, number, unit) in named.items()
    )


def _hole(item: Properties, tree_key: str | None) -> FoundHole:
    if tree_key is None:
        raise Unusable("has holes, but no id to which they could belong")
    key = item.needed("id")
    number = item.whole("number", least=1)
    hole = TapHole(
        key=key,
        tree_key=tree_key,
        number=1 if number is None else number,
        kind=item.kind("kind", Wound) or Wound.HOLE,
        made_on=item.needed_day("made_on"),
        made_at=item.moment("made_at"),
        height_mm=item.number("height_mm"),
        side_deg=item.number("side_deg"),
        depth_mm=item.number("depth_mm", least=0),
        bit_mm=item.number("bit_mm", least=0),
        note=item.note("note") or "",
    )
    return FoundHole(hole, tuple(_collection(row, key) for row in item.objects("collections")))


def _collection(item: Properties, hole_key: str) -> Collection:
    volume_ml = item.number("volume_ml", least=0)
    if volume_ml is None:
        raise Unusable(f"property '{item.path('volume_ml')}' is missing")
    given, unit = item.line("given"), item.line("given_unit")
    return Collection(
        key=item.needed("id"),
        hole_key=hole_key,
        collected_on=item.needed_day("collected_on"),
        collected_at=item.moment("collected_at"),
        volume_ml=volume_ml,
        given=given if given and unit else repr(volume_ml),
        given_unit=unit if given and unit else "ml",
        note=item.note("note") or "",
        overflowed=item.flag("overflowed") or False,
        total_key=item.name("total"),
    )


def _observation(item: Properties, tree_key: str | None, holes: frozenset[str]) -> Observation:
    if tree_key is None:
        raise Unusable("has observations, but no id to which they could belong")
    what = item.kind("what", Act)
    if what is None:
        raise Unusable(f"property '{item.path('what')}' is missing")
    hole_key = item.name("hole")
    if hole_key is not None and hole_key not in holes:
        raise Unusable(f"property '{item.path('hole')}' names '{shown(hole_key)}', which is none of its holes")
    return Observation(
        key=item.needed("id"),
        tree_key=tree_key,
        hole_key=hole_key,
        what=what,
        observed_on=item.needed_day("observed_on"),
        observed_at=item.moment("observed_at"),
        note=item.note("note") or "",
    )
