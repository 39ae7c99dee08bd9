"""Options of the commands for sap: how much, how sweet, and how its cautions are told."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

import typer

from standmap.cli.terminal import note
from standmap.errors import UserError

if TYPE_CHECKING:
    from standmap.jobs.returns import Volume
    from standmap.jobs.sap_cautions import Caution
    from standmap.jobs.sap_readings import BrixReading

VolumeOption = Annotated[
    str | None, typer.Option("--litres", metavar="NUMBER", help="As measured; with --unit in other units.")
]
UnitOption = Annotated[str | None, typer.Option("--unit", help="l, 'imp gal' or 'us gal'; l when left out.")]
BrixOption = Annotated[str | None, typer.Option("--brix", help="Sugar as the refractometer shows it, °Bx.")]
ReadAtOption = Annotated[
    str | None,
    typer.Option("--read-at", metavar="C", help="Its temperature, 10 to 30 °C, if it does not correct itself."),
]


def volume_of(litres: str | None, unit: str | None) -> Volume | None:
    """Return how much sap was stated, None where nothing was.

    Raises
    ------
    UserError
        If it is no volume of sap.
    """
    from standmap.jobs.sap_readings import read_sap_volume
    from standmap.units_shown import UnitsShown

    if litres is None:
        if unit is not None:
            raise UserError("--unit goes with --litres", "say how many")
        return None
    return read_sap_volume(litres if unit is None else f"{litres} {unit}", UnitsShown())


def reading_of(brix: str | None, read_at: str | None) -> BrixReading | None:
    """Return what the refractometer told, None where nothing was stated.

    Raises
    ------
    UserError
        If sap cannot have it.
    """
    from standmap.jobs.sap_readings import BrixReading, read_prism_c, read_sap_brix

    if brix is None:
        if read_at is not None:
            raise UserError("--read-at goes with --brix", "give what the refractometer shows")
        return None
    return BrixReading(read_sap_brix(brix), None if read_at is None else read_prism_c(read_at))


def say_cautions(cautions: Sequence[Caution]) -> None:
    """Write cautions with their sources beside the answer."""
    for one in cautions:
        note(f"caution: {one.text} [{one.source}]")


def caution_rows(cautions: Sequence[Caution]) -> list[dict[str, str]]:
    """Return cautions as JSON."""
    return [{"text": one.text, "source": one.source} for one in cautions]
