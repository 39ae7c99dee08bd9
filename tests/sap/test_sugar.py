"""Sugar: densities rise, sugar is kept by boiling, and a cold refractometer reads too much."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.sap.sugar import RULES_OF_86, at_20_c, boiled_down, density_kg_per_l

SAP = st.floats(0.1, 10.0)
SYRUP = st.floats(20.0, 70.0)


@pytest.fixture(autouse=True, scope="module")
def _tables_read() -> None:
    """Read the tables before anything is timed."""
    at_20_c(density_kg_per_l(1), 15)


@given(less=st.floats(0, 69.99), more=st.floats(0.01, 10))
def test_more_sugar_is_heavier(less: float, more: float) -> None:
    assert density_kg_per_l(min(less + more, 70.0)) > density_kg_per_l(less)


@given(litres=st.floats(0.1, 5000), sap=SAP, syrup=SYRUP)
def test_boiling_keeps_the_sugar_and_loses_water_only(litres: float, sap: float, syrup: float) -> None:
    made = boiled_down(litres, sap, syrup)
    assert made.syrup_kg * made.syrup_brix == pytest.approx(made.sap_kg * made.sap_brix)
    assert made.water_kg == pytest.approx(made.sap_kg - made.syrup_kg)
    assert 0 < made.syrup_l < made.sap_l
    assert made.sap_kg == pytest.approx(litres * density_kg_per_l(sap))


@given(sap=st.floats(0.3, 3.0))
def test_the_rules_of_thumb_lie_near_the_mass_balance(sap: float) -> None:
    for rule in RULES_OF_86:
        balance = boiled_down(1.0, sap, rule.syrup_brix or 65.5).ratio
        assert rule.ratio(sap) == pytest.approx(balance, rel=0.02)


@pytest.mark.parametrize(("litres", "sap", "syrup"), [(0, 1, 66), (-1, 1, 66), (5, 0, 66), (5, 66, 66), (5, 70, 66)])
def test_what_is_no_boil_is_refused(litres: float, sap: float, syrup: float) -> None:
    with pytest.raises(ValueError, match="sap has a volume"):
        boiled_down(litres, sap, syrup)


@pytest.mark.parametrize("brix", [-0.1, 70.1, float("nan")])
def test_densities_end_with_the_table(brix: float) -> None:
    with pytest.raises(ValueError, match="0 to 70"):
        density_kg_per_l(brix)


@given(read=st.floats(0, 70))
def test_at_20_degrees_nothing_is_corrected(read: float) -> None:
    assert at_20_c(read, 20) == pytest.approx(read, abs=1e-9)


@given(read=st.floats(0, 70), at=st.floats(10, 30), warmer=st.floats(0.1, 5))
def test_a_warmer_prism_reads_less_so_more_is_added(read: float, at: float, warmer: float) -> None:
    assert at_20_c(read, min(at + warmer, 30)) >= at_20_c(read, at)


@pytest.mark.parametrize(("read", "at"), [(1, 9.9), (1, 30.1), (-0.1, 15), (71, 15), (1, float("nan"))])
def test_corrections_end_with_the_table(read: float, at: float) -> None:
    with pytest.raises(ValueError, match="10 to 30"):
        at_20_c(read, at)
