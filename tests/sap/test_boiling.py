"""What a boil takes: heat and fuel keep their sums, and vessels hold what they must."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.sap.boiling import (
    BOTTLE_FULL_PART,
    USUAL_EFFICIENCY,
    Fuel,
    Heat,
    Pan,
    bottles_for,
    frozen_fill_ml,
    fuel_for,
    heat_for,
    hours_at_power,
    hours_at_rate,
    wood_kwh_per_kg,
)
from standmap.sap.sugar import boiled_down


def test_most_heat_goes_into_steam_and_colder_sap_takes_more() -> None:
    made = boiled_down(40, 0.9)
    cold, warm = heat_for(made, 0), heat_for(made, 20)
    assert cold.evaporate_kwh == warm.evaporate_kwh > 5 * cold.warm_kwh
    # 40.07 kg by 4.19 kJ/kg/K over 20 K
    assert cold.warm_kwh - warm.warm_kwh == pytest.approx(40.069 * 4.19 * 20 / 3600, rel=1e-4)
    # 39.52 kg by 2256.5 kJ/kg
    assert cold.evaporate_kwh == pytest.approx(39.522 * 2256.5 / 3600, rel=1e-4)


@given(kwh=st.floats(0.1, 500), fuel=st.sampled_from(Fuel), efficiency=st.floats(0.05, 1), moisture=st.floats(0, 0.6))
def test_fuel_gives_the_heat_that_is_asked(kwh: float, fuel: Fuel, efficiency: float, moisture: float) -> None:
    needed = fuel_for(Heat(kwh / 5, kwh * 4 / 5), fuel, efficiency, moisture)
    assert needed.kwh * efficiency == pytest.approx(kwh)
    assert (needed.kg is None) == (fuel is Fuel.ELECTRIC)
    if needed.kg is not None and needed.kwh_per_kg is not None:
        assert needed.kg * needed.kwh_per_kg == pytest.approx(needed.kwh)
    assert needed.moisture == (moisture if fuel is Fuel.WOOD else None)


@pytest.mark.parametrize("fuel", Fuel)
def test_an_efficiency_that_is_not_stated_is_assumed(fuel: Fuel) -> None:
    assert fuel_for(Heat(1, 9), fuel).efficiency == USUAL_EFFICIENCY[fuel]


@given(dry=st.floats(0, 0.5), more=st.floats(0.01, 0.1))
def test_wetter_wood_heats_less(dry: float, more: float) -> None:
    assert wood_kwh_per_kg(dry + more) < wood_kwh_per_kg(dry)


def test_hours_follow_what_was_stated() -> None:
    made = boiled_down(40, 0.9)
    assert hours_at_rate(made, 8) == pytest.approx(39.522 / 8, rel=1e-4)
    assert hours_at_power(Heat(4, 26), 6, 0.5) == pytest.approx(10)


def test_a_pan_tells_what_it_holds_and_how_deep_it_stands() -> None:
    pan = Pan(0.6, 0.4, 0.2)
    assert pan.area_m2 == pytest.approx(0.24)
    assert pan.holds_l == pytest.approx(24)
    assert pan.depth_mm(4.8) == pytest.approx(20)
    assert pan.least_l == pytest.approx(4.8)


@given(volume=st.floats(1, 20_000), size=st.floats(50, 2000))
def test_bottles_hold_all_and_not_one_is_spare(volume: float, size: float) -> None:
    count = bottles_for(volume, size)
    assert count * size * BOTTLE_FULL_PART >= volume * (1 - 1e-12)
    assert (count - 1) * size * BOTTLE_FULL_PART < volume


def test_what_is_frozen_has_room_to_grow() -> None:
    assert frozen_fill_ml(1000) == pytest.approx(917, abs=0.5)
    assert frozen_fill_ml(1000) / 0.917 == pytest.approx(1000, abs=1)
