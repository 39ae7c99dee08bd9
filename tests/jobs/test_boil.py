"""A boil that is thought of: what was stated is used, what was not is told as assumed, what cannot be is refused."""

from __future__ import annotations

from dataclasses import replace

import pytest

from standmap.errors import UserError
from standmap.jobs.boil import APPROXIMATION, BoilAsked, boil
from standmap.sap.boiling import Fuel, Pan

ASKED = BoilAsked(40, 0.9)


def test_syrup_stands_beside_the_rules_of_thumb_as_an_approximation() -> None:
    told = boil(ASKED)
    # 96.81 litres of sap a litre of syrup.
    assert told.made.syrup_l == pytest.approx(40 / 96.81, rel=1e-3)
    assert [(rule.number, round(rule.syrup_l, 3)) for rule in told.rules] == [
        (86.0, 0.419),
        (87.1, 0.413),
        (88.2, 0.408),
    ]
    assert told.bottles == 2
    assert APPROXIMATION in told.assumptions
    assert any("finish by refractometer" in one.text for one in told.cautions)
    assert all(one.source for one in told.cautions)


def test_what_is_not_stated_is_told_as_assumed() -> None:
    told = boil(ASKED)
    assert told.hours is None
    assert sum("assumption" in text for text in told.assumptions) == 2
    stated = boil(replace(ASKED, start_c=4.0, efficiency=0.3))
    assert not any("assumption" in text for text in stated.assumptions)
    assert stated.fuel.kwh == pytest.approx(stated.heat.kwh / 0.3)


@pytest.mark.parametrize(
    ("asked", "hours", "basis"),
    [
        (replace(ASKED, rate_l=8), 4.94, "8 L driven off in an hour, as stated"),
        (replace(ASKED, fuel=Fuel.ELECTRIC, power_kw=3, efficiency=0.85), 11.45, "3 kW, as stated"),
        # 0.24 m2 by 40.7 L an hour and square metre.
        (replace(ASKED, pan=Pan(0.6, 0.4, 0.2)), 4.05, "rule of thumb"),
        (replace(ASKED, pan=Pan(0.6, 0.4, 0.2), rate_l=8), 4.94, "as stated"),
    ],
)
def test_hours_and_what_they_rest_on(asked: BoilAsked, hours: float, basis: str) -> None:
    told = boil(asked)
    assert told.hours == pytest.approx(hours, abs=0.01)
    assert basis in told.hours_basis
    assert any("comes on top of the hours" in note for note in told.notes) == (asked.power_kw is None)


def test_a_pan_too_large_for_the_syrup_scorches_it() -> None:
    notes = boil(replace(ASKED, pan=Pan(0.6, 0.4, 0.2))).notes
    assert any("scorch: at 4.8 L, 20 mm deep, change to a smaller pan" in note for note in notes)
    assert any("at most 24.0 L at a time" in note for note in notes)
    small = boil(replace(ASKED, pan=Pan(0.14, 0.14, 0.2))).notes
    assert not any("scorch" in note for note in small)


@pytest.mark.parametrize(
    ("fuel", "weight", "said"), [(Fuel.GAS, 4.58, "bottled gas"), (Fuel.WOOD, 29.4, "wood of which")]
)
def test_fuel_is_weighed_with_its_heating_value(fuel: Fuel, weight: float, said: str) -> None:
    told = boil(replace(ASKED, fuel=fuel))
    assert told.fuel.kg == pytest.approx(weight, abs=0.05)
    assert any(text.startswith(said) for text in told.assumptions)


def test_thin_syrup_and_strange_sap_are_asked_about() -> None:
    assert any("keep it cold" in note for note in boil(replace(ASKED, syrup_brix=50)).notes)
    assert any("unusual for birch" in note for note in boil(replace(ASKED, sap_brix=4.0)).notes)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"sap_l": 0}, "no sap to boil"),
        ({"sap_l": float("nan")}, "no sap to boil"),
        ({"sap_l": float("inf")}, "no sap to boil"),
        ({"syrup_brix": 80}, "syrup of 80 °Bx is out of bounds"),
        ({"syrup_brix": float("nan")}, "out of bounds"),
        ({"efficiency": 1.2}, "an efficiency of 120 % is out of bounds"),
        ({"efficiency": float("nan")}, "is out of bounds"),
        ({"moisture": 0.9}, "wood with a moisture of 90 %"),
        ({"power_kw": 0.0}, "a power of 0 kW"),
        ({"rate_l": 1e6}, "is out of bounds"),
        ({"bottle_ml": 1.0}, "a bottle of 0.001 L"),
        ({"pan": Pan(60, 40, 20)}, "a pan of those measures"),
        ({"power_kw": 3.0, "rate_l": 8.0}, "cannot both tell the hours"),
    ],
)
def test_what_cannot_be_is_refused(changes: dict[str, float], said: str) -> None:
    with pytest.raises(UserError, match=said):
        boil(replace(ASKED, **changes))  # type: ignore[arg-type]
