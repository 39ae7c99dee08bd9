"""What a person reads off and types about sap: its sugar, how warm it is, how much there is; and what cannot be."""

from __future__ import annotations

import re
from dataclasses import dataclass

from standmap.errors import UserError
from standmap.jobs.returns import Volume
from standmap.sap.refractometer_table import TEMPERATURES_C
from standmap.sap.sugar import at_20_c
from standmap.units import decimal_number
from standmap.units_shown import UnitsShown

SAP_BRIX_BOUNDS = (0.1, 10.0)
"""Sap outside is a slip: birch has about 1 % (Lithuanian ministry; Seinäjoki UAS), maple about 4 %."""

USUAL_SAP_BRIX = (0.3, 3.0)
"""Birch sap outside is asked about: an assumption."""

SAP_BOUNDS_C = (-5.0, 40.0)
"""Sap freezes at about -3 °C (Gryazkin et al. 2023)."""

MOST_BATCH_LITRES = 5000.0
"""More was never carried by hand: catches a slip."""


@dataclass(frozen=True, slots=True)
class BrixReading:
    """Sugar as a refractometer told it.

    Attributes
    ----------
    read
        As it stood on the scale, per cent of mass.
    at_c
        How warm drop and prism were, for an instrument that does not correct itself; None for one that does.
    """

    read: float
    at_c: float | None = None

    @property
    def brix(self) -> float:
        """The sugar of the sap, °Bx at 20 °C.

        Raises
        ------
        UserError
            If nothing would be left of it.
        """
        if self.at_c is None:
            return self.read
        corrected = round(at_20_c(self.read, self.at_c), 2) + 0.0  # no minus before a nought
        if corrected < SAP_BRIX_BOUNDS[0]:
            raise UserError(
                f"{self.read:g} °Bx read at {self.at_c:g} °C would be {corrected:g} °Bx",
                "leave the temperature out if the refractometer corrects itself, or was set to 0 with cold water",
            )
        return corrected

    def told(self) -> str:
        """Return it as it was read, in words."""
        return f"{self.read:g} °Bx" + ("" if self.at_c is None else f" read at {self.at_c:g} °C")


def read_sap_brix(text: str) -> float:
    """Return what a refractometer told of sap.

    Raises
    ------
    UserError
        If it is no number, or sap cannot have that much sugar.
    """
    brix = float(decimal_number(re.sub(r"\s*(°\s*(Bx|Brix)|%)\s*$", "", text, flags=re.IGNORECASE)))
    low, high = SAP_BRIX_BOUNDS
    if not low <= brix <= high:
        raise UserError(
            f"{brix:g} °Bx cannot be sap",
            f"birch sap has about 1; write {low:g} to {high:g}, the figure before boiling",
        )
    return brix


def read_temperature_c(text: str, bounds: tuple[float, float] = SAP_BOUNDS_C) -> float:
    """Return a temperature in °C from what was typed, degrees Celsius unless an F stands behind.

    Raises
    ------
    UserError
        If it is no number or out of bounds.
    """
    found = re.fullmatch(r"\s*(.+?)\s*°?\s*([CcFf]?)\s*", text)
    number = float(decimal_number(found[1] if found is not None else text))
    celsius = round((number - 32) / 1.8, 2) if found is not None and found[2] in ("F", "f") else number
    low, high = bounds
    if not low <= celsius <= high:
        raise UserError(f"{text.strip()[:20]} cannot be its temperature", f"write {low:g} to {high:g} °C")
    return celsius


def read_prism_c(text: str) -> float:
    """Return how warm drop and prism were when the refractometer was read; see `read_temperature_c`."""
    return read_temperature_c(text, (TEMPERATURES_C[0], TEMPERATURES_C[-1]))


def read_sap_volume(text: str, units: UnitsShown) -> Volume:
    """Return how much sap there is.

    Raises
    ------
    UserError
        If it is no volume, a gallon of nobody, nothing, or more than anybody carried.
    """
    ml, given, unit = units.read_volume(text)
    if ml <= 0:
        raise UserError(f"{text.strip()[:40]} is no sap", "write more than 0")
    if ml > MOST_BATCH_LITRES * 1000:
        raise UserError(
            f"{text.strip()[:40]} is more than {units.volume(MOST_BATCH_LITRES * 1000)}",
            "look for a slip of the decimal mark",
        )
    return Volume(ml, given, unit)


def doubt_of_brix(brix: float) -> str:
    """Return what to ask about sugar that is possible but unlikely for birch, or nothing."""
    low, high = USUAL_SAP_BRIX
    if low <= brix <= high:
        return ""
    return f"{brix:g} °Bx is unusual for birch sap, which has about 1: a slip, or another tree's?"
