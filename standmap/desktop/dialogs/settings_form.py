"""What is typed into the settings dialog, as values, in the person's own units. No Qt here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from standmap.errors import UserError
from standmap.settings import Kind, Setting, Value
from standmap.units_shown import UnitsShown


@dataclass(frozen=True, slots=True)
class Measure:
    """How a setting with a unit is shown and read.

    Attributes
    ----------
    unit
        As it stands beside the field.
    """

    show: Callable[[float], str]
    read: Callable[[str], float]
    unit: str


def measure_of(setting: Setting, units: UnitsShown) -> Measure | None:
    """Return how a setting is measured in a person's units, None where it has a unit of its own or none."""
    if setting.unit == "ml":
        return Measure(units.volume, lambda text: units.read_volume(text)[0], units.volume_unit)
    if setting.unit == "kg":
        return Measure(units.mass, units.read_mass_kg, units.mass_unit)
    return None


def unit_of(setting: Setting, units: UnitsShown) -> str:
    """Return the unit beside the field of a setting, "" for none."""
    measure = measure_of(setting, units)
    return measure.unit if measure else setting.unit


def shown(setting: Setting, value: Value, units: UnitsShown) -> str:
    """Return a value as it stands in its field, the unit beside it."""
    measure = measure_of(setting, units)
    if measure is None or not isinstance(value, int | float):
        return setting.written(value)
    return units.number(measure.show(value))


def bounds(setting: Setting, units: UnitsShown) -> tuple[str, str]:
    """Return the least and the most of a number, as a field takes them."""
    measure = measure_of(setting, units)
    if measure is None:
        return f"{setting.least:g}", f"{setting.most:g}"
    return units.number(measure.show(setting.least)), units.number(measure.show(setting.most))


def read(setting: Setting, text: str, before: Value, units: UnitsShown) -> Value:
    """Return the value typed for a setting; an untouched text is the value as it was, to the last digit.

    Raises
    ------
    UserError
        If it cannot be set: what is wrong, without the title that stands beside the field anyway.
    """
    if text.strip() == shown(setting, before, units):
        return before
    measure = measure_of(setting, units)
    if measure is None or not text.strip():
        try:
            return setting.read(text)
        except UserError as error:
            raise UserError(error.what.removeprefix(f"{setting.title}: "), error.remedy) from None
    value = measure.read(text)
    least, most = bounds(setting, units)
    # A bound is taken as it is shown, though rounding may lie a little beyond.
    for bound, told in ((setting.least, least), (setting.most, most)):
        if units.number(measure.show(value)) == told:
            value = bound
    if setting.kind is Kind.NUMBER and not setting.least <= value <= setting.most:
        raise UserError(f"'{text.strip()[:40]}' cannot be set", f"choose {least} to {most} {measure.unit}")
    return setting.checked(value)
