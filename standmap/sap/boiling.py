"""What a boil takes: heat, fuel, hours, how deep it stands in the pan, and what the syrup or frozen sap is put into.

Heat is that of water; the sugar of sap changes it by less than one part in a hundred. What goes into walls, wind and
chimney is in the efficiency, which a person states: the ones here are assumptions.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from standmap.sap.sugar import SyrupMade

LATENT_KJ_PER_KG = 2256.5
"""Heat that turns water of 100 °C into steam, at 101.325 kPa: IAPWS-95, worked out with CoolProp 8.0."""

HEAT_KJ_PER_KG_K = 4.19
"""Heat that warms water by one kelvin, the mean from 5 to 100 °C: IAPWS-95, worked out with CoolProp 8.0."""

BOILS_AT_C = 100.0

KJ_PER_KWH = 3600.0

DRY_WOOD_MJ_PER_KG = 18.5
WATER_IN_WOOD_MJ_PER_KG = 2.44
"""Net heating value of oven-dry wood of a broadleaf, and what each kilogram of water in it takes to leave: Wood Fuels
Handbook, AIEL 2008 (title from memory; the figures, 18.5 to 19 MJ/kg and 2.44 MJ/kg, were read elsewhere)."""

GAS_MJ_PER_KG = 45.9
"""Net heating value of bottled gas: UK government conversion factors 2025, 6.761 kWh/L at 0.5297 kg/L (read in a table
that names them). IPCC 2006, table 1.2, has 47.3 for liquefied petroleum gas."""

USUAL_MOISTURE = 0.20
"""Water in seasoned firewood, of its whole weight: 20 to 25 % by common practice."""

PAN_L_PER_H_M2 = 40.7
"""Boiled off over a strong fire: one US gallon an hour for each square foot of flat pan, a rule of thumb for maple
(Farming Magazine, How to choose an evaporator)."""

LEAST_DEPTH_MM = 20.0
"""Syrup that stands shallower than this scorches: common practice, no source."""

PAN_FULL_PART = 0.5
"""How full a pan is at most, or it boils over: an assumption."""

BOTTLE_FULL_PART = 0.95
"""How full a bottle of hot syrup is: an assumption."""

ICE_KG_PER_M3 = 916.7
COLD_WATER_KG_PER_M3 = 999.8
"""Densities at 0 °C, from memory: ice takes 9 % more room than its water."""


class Fuel(StrEnum):
    """What the pan is heated with."""

    WOOD = "wood"
    GAS = "gas"
    ELECTRIC = "electric"


USUAL_EFFICIENCY = MappingProxyType({Fuel.WOOD: 0.25, Fuel.GAS: 0.5, Fuel.ELECTRIC: 0.85})
"""Part of the heat that reaches the sap: assumptions of ours, for an open pan over a fire, a ring, and a hob."""


@dataclass(frozen=True, slots=True)
class Heat:
    """Heat that the sap itself takes, kWh: to be warmed until it boils, and to lose its water."""

    warm_kwh: float
    evaporate_kwh: float

    @property
    def kwh(self) -> float:
        """Both together."""
        return self.warm_kwh + self.evaporate_kwh


@dataclass(frozen=True, slots=True)
class FuelNeeded:
    """What the fire is fed with for it.

    Attributes
    ----------
    kwh
        Heat in the fuel, or drawn from the mains.
    kwh_per_kg
        Net heating value; None for electricity.
    moisture
        Part of the wood's weight that is water; None for other fuels.
    """

    fuel: Fuel
    efficiency: float
    kwh: float
    kwh_per_kg: float | None
    moisture: float | None = None

    @property
    def kg(self) -> float | None:
        """Its weight; None for electricity."""
        return self.kwh / self.kwh_per_kg if self.kwh_per_kg is not None else None


@dataclass(frozen=True, slots=True)
class Pan:
    """A pan with upright sides, by its inner measures in metres."""

    length_m: float
    width_m: float
    height_m: float

    @property
    def area_m2(self) -> float:
        """The surface from which steam rises."""
        return self.length_m * self.width_m

    @property
    def holds_l(self) -> float:
        """What may stand in it while it boils."""
        return self.area_m2 * self.height_m * 1000 * PAN_FULL_PART

    def depth_mm(self, volume_l: float) -> float:
        """Return how deep so much stands in it."""
        return volume_l / self.area_m2

    @property
    def least_l(self) -> float:
        """What must be left in it, or it scorches: then a smaller pan is wanted."""
        return self.area_m2 * LEAST_DEPTH_MM


def heat_for(made: SyrupMade, start_c: float) -> Heat:
    """Return the heat that a boil takes from sap of this temperature."""
    warm = made.sap_kg * HEAT_KJ_PER_KG_K * (BOILS_AT_C - start_c)
    return Heat(warm / KJ_PER_KWH, made.water_kg * LATENT_KJ_PER_KG / KJ_PER_KWH)


def wood_kwh_per_kg(moisture: float) -> float:
    """Return the net heating value of wood of which this part of the weight is water."""
    return (DRY_WOOD_MJ_PER_KG * (1 - moisture) - WATER_IN_WOOD_MJ_PER_KG * moisture) / 3.6


def fuel_for(heat: Heat, fuel: Fuel, efficiency: float | None = None, moisture: float = USUAL_MOISTURE) -> FuelNeeded:
    """Return the fuel for so much heat; an efficiency that is not stated is assumed."""
    part = USUAL_EFFICIENCY[fuel] if efficiency is None else efficiency
    if fuel is Fuel.WOOD:
        return FuelNeeded(fuel, part, heat.kwh / part, wood_kwh_per_kg(moisture), moisture)
    return FuelNeeded(fuel, part, heat.kwh / part, GAS_MJ_PER_KG / 3.6 if fuel is Fuel.GAS else None)


def hours_at_power(heat: Heat, power_kw: float, efficiency: float) -> float:
    """Return how long a burner or a hob of this power boils."""
    return heat.kwh / (power_kw * efficiency)


def hours_at_rate(made: SyrupMade, litres_an_hour: float) -> float:
    """Return how long it boils where so many litres of water go in an hour; warming up is not in it."""
    return made.water_kg / litres_an_hour


def bottles_for(volume_ml: float, bottle_ml: float) -> int:
    """Return how many bottles of this size the syrup fills, the last one perhaps in part."""
    return math.ceil(volume_ml / (bottle_ml * BOTTLE_FULL_PART))


def frozen_fill_ml(holds_ml: float) -> float:
    """Return how much sap may go into a vessel of this size that is to be frozen, and not one drop more."""
    return holds_ml * ICE_KG_PER_M3 / COLD_WATER_KG_PER_M3
