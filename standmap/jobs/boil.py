"""What boiling sap would give and take: syrup, fuel, hours, pan and bottles, with all that it rests on."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from standmap.errors import UserError
from standmap.jobs.sap_cautions import BOILING, Caution
from standmap.jobs.sap_readings import doubt_of_brix
from standmap.sap.boiling import (
    GAS_MJ_PER_KG,
    LEAST_DEPTH_MM,
    PAN_L_PER_H_M2,
    USUAL_MOISTURE,
    Fuel,
    FuelNeeded,
    Heat,
    Pan,
    bottles_for,
    fuel_for,
    heat_for,
    hours_at_power,
    hours_at_rate,
)
from standmap.sap.sugar import ALASKA_RATIO, RULES_OF_86, SYRUP_BRIX, SyrupMade, boiled_down
from standmap.units import decimal_number, to_mm

SYRUP_BOUNDS = (20.0, 70.0)
EFFICIENCY_BOUNDS = (0.02, 1.0)
MOISTURE_BOUNDS = (0.0, 0.6)
POWER_BOUNDS_KW = (0.1, 500.0)
RATE_BOUNDS_L = (0.1, 1000.0)
PAN_BOUNDS_M = (0.05, 5.0)
BOTTLE_BOUNDS_ML = (10.0, 20_000.0)

USUAL_START_C = 5.0
"""Sap as it comes home: an assumption."""

USUAL_BOTTLE_ML = 250.0

THIN_BELOW_BRIX = 65.0
"""Syrup thinner than this ferments and moulds sooner: common practice, no source."""

APPROXIMATION = (
    "reckoned with the densities of sucrose; birch sugar is mostly glucose and fructose, so every figure of syrup is "
    "an approximation"
)


@dataclass(frozen=True, slots=True)
class BoilAsked:
    """A boil that is thought of.

    Attributes
    ----------
    efficiency
        Part of the fuel's heat that reaches the sap; assumed where not stated.
    moisture
        Part of the wood's weight that is water.
    power_kw, rate_l
        Of the burner, or litres of water driven off in an hour, as the person states them; one of them at most.
    """

    sap_l: float
    sap_brix: float
    syrup_brix: float = SYRUP_BRIX
    start_c: float | None = None
    fuel: Fuel = Fuel.WOOD
    efficiency: float | None = None
    moisture: float | None = None
    power_kw: float | None = None
    rate_l: float | None = None
    pan: Pan | None = None
    bottle_ml: float = USUAL_BOTTLE_ML


@dataclass(frozen=True, slots=True)
class RuleBeside:
    """What a rule of thumb says of the same sap: litres of syrup."""

    number: float
    syrup_brix: float | None
    syrup_l: float
    source: str


@dataclass(frozen=True, slots=True)
class BoilTold:
    """What it would give.

    Attributes
    ----------
    hours, hours_basis
        Of boiling, None where nothing was stated that would tell, and what they rest on.
    rules
        The family of the rule of 86, beside the mass balance.
    assumptions
        What was not stated and is assumed, and what the figures rest on.
    notes
        What to look at.
    """

    asked: BoilAsked
    made: SyrupMade
    heat: Heat
    fuel: FuelNeeded
    hours: float | None
    hours_basis: str
    bottles: int
    rules: tuple[RuleBeside, ...]
    assumptions: tuple[str, ...]
    notes: tuple[str, ...]
    cautions: tuple[Caution, ...]


def boil(asked: BoilAsked) -> BoilTold:
    """Return what a boil would give and take.

    Raises
    ------
    UserError
        If something stated cannot be.
    """
    check_boil(asked)
    made = boiled_down(asked.sap_l, asked.sap_brix, asked.syrup_brix)
    start_c = USUAL_START_C if asked.start_c is None else asked.start_c
    heat = heat_for(made, start_c)
    moisture = USUAL_MOISTURE if asked.moisture is None else asked.moisture
    fuel = fuel_for(heat, asked.fuel, asked.efficiency, moisture)
    hours, basis = _hours(asked, made, heat, fuel)
    return BoilTold(
        asked,
        made,
        heat,
        fuel,
        hours,
        basis,
        bottles_for(made.syrup_l * 1000, asked.bottle_ml),
        tuple(RuleBeside(r.number, r.syrup_brix, asked.sap_l / r.ratio(asked.sap_brix), r.source) for r in RULES_OF_86),
        _assumptions(asked, fuel),
        _notes(asked, made),
        BOILING,
    )


def read_pan(text: str) -> Pan:
    """Return a pan from its inner measures as a person writes them, in centimetres or inches: "60 x 40 x 20".

    Raises
    ------
    UserError
        If they are not three lengths.
    """
    found = re.fullmatch(r"(.*?)\s*(cm|in)?", text.strip())
    sides = re.split(r"\s*[x×]\s*", found[1]) if found is not None else []
    if found is None or len(sides) != len(("length", "width", "height")):
        raise UserError(f"'{text.strip()[:40]}' is no pan", "write length, width and height: 60 x 40 x 20 cm")
    return Pan(*(to_mm(decimal_number(side), found[2] or "cm") / 1000 for side in sides))


def check_boil(asked: BoilAsked) -> None:
    """Raise what is wrong with what was stated."""
    if not 0 < asked.sap_l < math.inf:
        raise UserError("there is no sap to boil", "give more than 0 L")
    low, high = SYRUP_BOUNDS
    if not (low <= asked.syrup_brix <= high and asked.syrup_brix > asked.sap_brix):
        raise UserError(
            f"syrup of {asked.syrup_brix:g} °Bx is out of bounds", f"choose {low:g} to {high:g}, as a rule 66"
        )
    for value, (least, most), what, times, unit in (
        (asked.efficiency, EFFICIENCY_BOUNDS, "an efficiency", 100, "%"),
        (asked.moisture, MOISTURE_BOUNDS, "wood with a moisture", 100, "%"),
        (asked.power_kw, POWER_BOUNDS_KW, "a power", 1, "kW"),
        (asked.rate_l, RATE_BOUNDS_L, "a boil-off in an hour", 1, "L"),
        (asked.bottle_ml, BOTTLE_BOUNDS_ML, "a bottle", 0.001, "L"),
    ):
        if value is not None and not least <= value <= most:
            raise UserError(
                f"{what} of {value * times:g} {unit} is out of bounds",
                f"choose {least * times:g} to {most * times:g} {unit}",
            )
    if asked.pan is not None:
        sides = (asked.pan.length_m, asked.pan.width_m, asked.pan.height_m)
        if not all(PAN_BOUNDS_M[0] <= side <= PAN_BOUNDS_M[1] for side in sides):
            raise UserError(
                "a pan of those measures is out of bounds", "give length, width and height: 60 x 40 x 20 cm"
            )
    if asked.power_kw is not None and asked.rate_l is not None:
        raise UserError("a power and a boil-off in an hour cannot both tell the hours", "state one of them")


def _hours(asked: BoilAsked, made: SyrupMade, heat: Heat, fuel: FuelNeeded) -> tuple[float | None, str]:
    if asked.rate_l is not None:
        return hours_at_rate(made, asked.rate_l), f"{asked.rate_l:g} L driven off in an hour, as stated"
    if asked.power_kw is not None:
        return hours_at_power(heat, asked.power_kw, fuel.efficiency), f"{asked.power_kw:g} kW, as stated"
    if asked.pan is not None:
        rate = asked.pan.area_m2 * PAN_L_PER_H_M2
        rule = "a rule of thumb for maple: one US gallon an hour for a square foot of pan over a strong fire"
        return hours_at_rate(made, rate), f"{rate:.1f} L driven off in an hour; {rule}"
    return None, "state the litres driven off in an hour, a power or a pan, and the hours are told"


def _assumptions(asked: BoilAsked, fuel: FuelNeeded) -> tuple[str, ...]:
    told = [APPROXIMATION]
    if asked.efficiency is None:
        told.append(
            f"{fuel.efficiency * 100:.0f} % of the heat reaches the sap: an assumption for {_HEARTH[fuel.fuel]}"
        )
    if fuel.fuel is Fuel.WOOD and fuel.kwh_per_kg is not None and fuel.moisture is not None:
        told.append(
            f"wood of which {fuel.moisture * 100:.0f} % is water gives {fuel.kwh_per_kg:.2f} kWh/kg "
            "(18.5 MJ/kg dry, Wood Fuels Handbook, AIEL 2008)"
        )
    if fuel.fuel is Fuel.GAS:
        told.append(f"bottled gas gives {GAS_MJ_PER_KG / 3.6:.2f} kWh/kg (UK government conversion factors 2025)")
    if asked.start_c is None:
        told.append(f"the sap is taken to be at {USUAL_START_C:g} °C: an assumption")
    return tuple(told)


_HEARTH = {Fuel.WOOD: "an open pan over a fire", Fuel.GAS: "a gas ring", Fuel.ELECTRIC: "an electric hob"}


def _notes(asked: BoilAsked, made: SyrupMade) -> tuple[str, ...]:
    low, high = ALASKA_RATIO
    usual = f"in Alaska {low:.0f} to {high:.0f} are usual (University of Alaska Fairbanks Extension 2015)"
    told = [f"{made.ratio:.0f} L of sap for 1 L of syrup; {usual}"]
    doubt = doubt_of_brix(asked.sap_brix)
    if doubt:
        told.append(doubt)
    if asked.syrup_brix < THIN_BELOW_BRIX:
        told.append("syrup as thin as that ferments and moulds: keep it cold")
    if asked.power_kw is None and (asked.rate_l is not None or asked.pan is not None):
        told.append("warming it up until it boils comes on top of the hours")
    if asked.pan is not None:
        told += _pan_notes(asked.pan, made)
    return tuple(told)


def _pan_notes(pan: Pan, made: SyrupMade) -> list[str]:
    told = []
    if made.sap_l > pan.holds_l:
        told.append(f"the pan boils at most {pan.holds_l:.1f} L at a time: top it up as it sinks")
    if made.syrup_l < pan.least_l:
        told.append(
            f"the syrup would stand {pan.depth_mm(made.syrup_l):.1f} mm deep and scorch: at {pan.least_l:.1f} L, "
            f"{LEAST_DEPTH_MM:.0f} mm deep, change to a smaller pan"
        )
    return told
