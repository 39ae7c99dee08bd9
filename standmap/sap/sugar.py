"""Sugar in sap and syrup: density, what boiling leaves by mass balance, the rule of 86, and a refractometer read cold.

All of it is for sucrose. Birch sugar is mostly glucose and fructose, so each figure of syrup is an approximation. No
boiling point to stop at is offered: two small sugars raise it more than one large one, and at 4 K above water, where
sucrose stands at 66 °Bx, birch would stand near 60 °Bx (Raoult's law). A refractometer tells when it is done.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from standmap.sap.refractometer_table import CORRECTIONS, READ_PERCENT, TEMPERATURES_C

if TYPE_CHECKING:
    from scipy.interpolate import PchipInterpolator, RegularGridInterpolator

DENSITY_KG_PER_M3: tuple[tuple[float, float], ...] = (
    (0.0, 998.2), (0.5, 1000.2), (1.0, 1002.1), (1.5, 1004.0), (2.0, 1006.0), (5.0, 1017.8), (10.0, 1038.1),
    (20.0, 1081.0), (30.0, 1127.0), (40.0, 1176.5), (50.0, 1229.5), (60.0, 1286.4), (66.0, 1322.4), (70.0, 1347.2),
)  # fmt: skip
"""Sucrose in water at 20 °C by per cent of mass: CRC Handbook, through M. T. Flanagan's Java library (`Sucrose`)."""

SYRUP_BRIX = 66.0
"""What syrup is boiled to unless another figure is asked for: the rule for maple syrup, used for birch as well."""

ALASKA_RATIO = (100.0, 120.0)
"""Litres of birch sap a litre of syrup: University of Alaska Fairbanks Extension (J. Cascio) 2015, OneTree 2017."""


@dataclass(frozen=True, slots=True)
class RuleOf86:
    """A rule of thumb: litres of sap for a litre of syrup are this number over the sap's °Bx.

    Attributes
    ----------
    syrup_brix
        The syrup that it is for; None where the rule does not say.
    """

    number: float
    syrup_brix: float | None
    source: str

    def ratio(self, sap_brix: float) -> float:
        """Return litres of sap for a litre of syrup."""
        return self.number / sap_brix


RULES_OF_86 = (
    RuleOf86(86.0, None, "C. H. Jones, for maple"),
    RuleOf86(87.1, 66.0, "Perkins & Isselhardt, University of Vermont, for maple"),
    RuleOf86(88.2, 66.9, "Perkins & Isselhardt, University of Vermont, for maple"),
)


@dataclass(frozen=True, slots=True)
class SyrupMade:
    """What boiling leaves of sap, if no sugar is lost: litres at 20 °C, kilograms, per cent of mass (°Bx)."""

    sap_l: float
    sap_kg: float
    sap_brix: float
    syrup_brix: float
    syrup_l: float
    syrup_kg: float

    @property
    def water_kg(self) -> float:
        """Water that is driven off."""
        return self.sap_kg - self.syrup_kg

    @property
    def ratio(self) -> float:
        """Litres of sap for a litre of syrup."""
        return self.sap_l / self.syrup_l


def density_kg_per_l(brix: float) -> float:
    """Return the density of a sucrose solution at 20 °C.

    Raises
    ------
    ValueError
        Outside the table, 0 to 70 % of mass.
    """
    least, most = DENSITY_KG_PER_M3[0][0], DENSITY_KG_PER_M3[-1][0]
    if not least <= brix <= most:
        raise ValueError(f"densities are known from {least:g} to {most:g} °Bx")
    return float(_density()(brix)) / 1000


def boiled_down(sap_l: float, sap_brix: float, syrup_brix: float = SYRUP_BRIX) -> SyrupMade:
    """Return what boiling leaves: the sugar of the sap is the sugar of the syrup.

    Raises
    ------
    ValueError
        If there is no sap, no sugar in it, or the syrup is not sweeter than the sap.
    """
    if not sap_l > 0 or not 0 < sap_brix < syrup_brix:
        raise ValueError("sap has a volume and some sugar, and its syrup has more")
    sap_kg = sap_l * density_kg_per_l(sap_brix)
    syrup_kg = sap_kg * sap_brix / syrup_brix
    return SyrupMade(sap_l, sap_kg, sap_brix, syrup_brix, syrup_kg / density_kg_per_l(syrup_brix), syrup_kg)


def at_20_c(read_brix: float, at_c: float) -> float:
    """Return what a refractometer would have read at 20 °C, for one that neither corrects itself nor was set at `at_c`.

    Below nothing where the reading is of less than water.

    Raises
    ------
    ValueError
        Outside the table, 0 to 70 % read at 10 to 30 °C.
    """
    if not READ_PERCENT[0] <= read_brix <= READ_PERCENT[-1] or not TEMPERATURES_C[0] <= at_c <= TEMPERATURES_C[-1]:
        raise ValueError(f"corrections are known from {TEMPERATURES_C[0]:g} to {TEMPERATURES_C[-1]:g} °C")
    return read_brix + float(_correction()((at_c, read_brix)))


@lru_cache(maxsize=1)
def _density() -> PchipInterpolator:
    """Return densities between those of the table: smooth, and rising wherever the table rises."""
    from scipy.interpolate import PchipInterpolator

    percent, density = zip(*DENSITY_KG_PER_M3, strict=True)
    return PchipInterpolator(percent, density)


@lru_cache(maxsize=1)
def _correction() -> RegularGridInterpolator:
    from scipy.interpolate import RegularGridInterpolator

    return RegularGridInterpolator((TEMPERATURES_C, READ_PERCENT), CORRECTIONS)
