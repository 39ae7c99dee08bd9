"""The command that tells what boiling would give and take: boil."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from standmap.cli.options import JsonOption
from standmap.cli.sap_options import (
    BrixOption,
    ReadAtOption,
    UnitOption,
    VolumeOption,
    caution_rows,
    reading_of,
    say_cautions,
    volume_of,
)
from standmap.cli.terminal import emit_json, note, say

if TYPE_CHECKING:
    from standmap.jobs.boil import BoilTold
    from standmap.sap.boiling import Fuel


def add_to(app: typer.Typer) -> None:
    """Add the command of this file."""
    app.command()(boil)


def boil(
    file: Annotated[Path | None, typer.Argument(metavar="[FILE]", help="A stand, for a batch of it.")] = None,
    *,
    name: Annotated[str | None, typer.Option("--batch", metavar="NAME", help="A batch of the stand.")] = None,
    litres: VolumeOption = None,
    unit: UnitOption = None,
    brix: BrixOption = None,
    read_at: ReadAtOption = None,
    to: Annotated[str | None, typer.Option("--to", metavar="BRIX", help="Syrup of so many °Bx; 66.")] = None,
    temperature: Annotated[
        str | None, typer.Option("--temperature", metavar="C", help="Of the sap at first; 5.")
    ] = None,
    fuel: Annotated[str, typer.Option("--fuel", help="wood, gas or electric.")] = "wood",
    efficiency: Annotated[
        str | None, typer.Option("--efficiency", metavar="PERCENT", help="Of the heat that reaches the sap.")
    ] = None,
    moisture: Annotated[
        str | None, typer.Option("--moisture", metavar="PERCENT", help="Water in the wood, of its weight; 20.")
    ] = None,
    power: Annotated[str | None, typer.Option("--power", metavar="KW", help="Of the burner or hob.")] = None,
    rate: Annotated[
        str | None, typer.Option("--litres-an-hour", metavar="L", help="Water driven off in an hour, as you know it.")
    ] = None,
    pan: Annotated[str | None, typer.Option("--pan", metavar="LxWxH", help="Inside, in cm: 60x40x20.")] = None,
    bottle: Annotated[str | None, typer.Option("--bottle", metavar="ML", help="Size of a bottle; 250.")] = None,
    as_json: JsonOption = False,
) -> None:
    """Tell what boiling sap down would give: syrup, water to drive off, fuel, hours, bottles. Nothing is written.

    Give litres and °Bx, or a batch of a stand. All is reckoned with sucrose, and so an approximation for birch.
    """
    from standmap.errors import UserError
    from standmap.jobs.boil import USUAL_BOTTLE_ML, BoilAsked, read_pan
    from standmap.jobs.boil import boil as told_of
    from standmap.jobs.sap_readings import read_temperature_c
    from standmap.sap.sugar import SYRUP_BRIX

    volume = volume_of(litres, unit)
    reading = reading_of(brix, read_at)
    start_c = None if temperature is None else read_temperature_c(temperature)
    sap_l = None if volume is None else volume.ml / 1000
    sap_brix = None if reading is None else reading.brix
    if (file is None) != (name is None):
        raise UserError("a batch is in a stand", "give both: standmap boil FILE --batch NAME")
    if file is not None and name is not None:
        held_l, held_brix, held_c = _held(file, name)
        sap_l = held_l if sap_l is None else sap_l
        sap_brix = held_brix if sap_brix is None else sap_brix
        start_c = held_c if start_c is None else start_c
    if sap_l is None or sap_brix is None:
        raise UserError(
            "how much sap there is, or its sugar, is not stated", "give --litres and --brix, or a batch that has them"
        )
    asked = BoilAsked(
        sap_l,
        sap_brix,
        _number(to, "--to") or SYRUP_BRIX,
        start_c,
        _fuel(fuel),
        _part(efficiency, "--efficiency"),
        _part(moisture, "--moisture"),
        _number(power, "--power"),
        _number(rate, "--litres-an-hour"),
        None if pan is None else read_pan(pan),
        _number(bottle, "--bottle") or USUAL_BOTTLE_ML,
    )
    _show(told_of(asked), as_json=as_json)


def _held(file: Path, name: str) -> tuple[float, float | None, float | None]:
    """Return litres, sugar and temperature of a batch."""
    from standmap.jobs.batch_told import batch_named, told_of
    from standmap.jobs.clock import today
    from standmap.jobs.opening import open_stand

    with open_stand(file, read_only=True) as opened:
        stand = opened.stand()
    held = batch_named(stand, name)
    told = told_of(stand, held, today())
    for one in told.kept:
        note(f"{held.name}: {one.text} [{one.source}]")
    if held.fate and held.fate != "boiled":
        note(f"{held.name} was {held.fate} already")
    return told.volume_ml / 1000, held.sugar_brix, held.temperature_c


def _number(text: str | None, option: str) -> float | None:
    """Return a number above 0, None where none was given."""
    from standmap.errors import UserError
    from standmap.units import decimal_number

    if text is None:
        return None
    number = float(decimal_number(text))
    if number <= 0:
        raise UserError(f"{option} {text[:20]} is not above 0", "write more than 0")
    return number


def _part(text: str | None, option: str) -> float | None:
    number = _number(None if text is None else text.rstrip("% "), option)
    return None if number is None else number / 100


def _fuel(text: str) -> Fuel:
    from standmap.errors import UserError
    from standmap.sap.boiling import Fuel

    try:
        return Fuel(text.strip().casefold())
    except ValueError:
        raise UserError(f"'{text[:40]}' is no fuel known here", f"write one of: {', '.join(Fuel)}") from None


def _show(told: BoilTold, *, as_json: bool) -> None:
    if as_json:
        emit_json(_json(told))
        return
    made, fuel = told.made, told.fuel
    say(f"{made.sap_l:.1f} L of sap at {made.sap_brix:g} °Bx, {made.sap_kg:.1f} kg")
    about = "an approximation, as if the sugar were sucrose"
    say(f"syrup of {made.syrup_brix:g} °Bx: about {made.syrup_l:.2f} L, {made.syrup_kg:.2f} kg ({about})")
    for rule in told.rules:
        of = "" if rule.syrup_brix is None else f" for {rule.syrup_brix:g} °Bx"
        say(f"  rule of {rule.number:g}{of}: {rule.syrup_l:.2f} L [{rule.source}]")
    say(f"water to drive off: {made.water_kg:.1f} L")
    mains = f"{fuel.kwh:.1f} kWh from the mains"
    burnt = mains if fuel.kg is None else f"{fuel.kg:.1f} kg of {fuel.fuel}, {fuel.kwh:.1f} kWh"
    say(f"heat into the sap: {told.heat.kwh:.1f} kWh, from {burnt}")
    if told.hours is None:
        say(f"hours: {told.hours_basis}")
    else:
        say(f"hours: {told.hours:.1f} ({told.hours_basis})")
    say(f"bottles of {told.asked.bottle_ml:g} mL: {told.bottles}")
    for text in told.notes:
        note(text)
    for text in told.assumptions:
        note(f"rests on: {text}")
    say_cautions(told.cautions)


def _json(told: BoilTold) -> dict[str, object]:
    made, fuel = told.made, told.fuel
    return {
        "sap_l": made.sap_l,
        "sap_kg": made.sap_kg,
        "sap_brix": made.sap_brix,
        "syrup_brix": made.syrup_brix,
        "syrup_l": made.syrup_l,
        "syrup_kg": made.syrup_kg,
        "ratio": made.ratio,
        "water_kg": made.water_kg,
        "rules": [
            {"rule": r.number, "syrup_brix": r.syrup_brix, "syrup_l": r.syrup_l, "source": r.source} for r in told.rules
        ],
        "heat_kwh": {"warm": told.heat.warm_kwh, "evaporate": told.heat.evaporate_kwh},
        "fuel": {
            "fuel": str(fuel.fuel),
            "kwh": fuel.kwh,
            "kg": fuel.kg,
            "kwh_per_kg": fuel.kwh_per_kg,
            "efficiency": fuel.efficiency,
            "moisture": fuel.moisture,
        },
        "hours": told.hours,
        "hours_basis": told.hours_basis,
        "bottles": {"ml": told.asked.bottle_ml, "count": told.bottles},
        "notes": list(told.notes),
        "assumptions": list(told.assumptions),
        "cautions": caution_rows(told.cautions),
    }
