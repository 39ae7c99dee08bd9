"""Published figures of sap and syrup, written out again beside their sources."""

from __future__ import annotations

import math

import pytest

from standmap.sap.boiling import HEAT_KJ_PER_KG_K, LATENT_KJ_PER_KG, wood_kwh_per_kg
from standmap.sap.sugar import ALASKA_RATIO, RULES_OF_86, at_20_c, boiled_down, density_kg_per_l
from standmap.units import ML_PER


@pytest.mark.parametrize(
    ("percent", "kg_per_m3"),
    [
        # Sucrose in water at 20 °C by per cent of mass: CRC Handbook, via M. T. Flanagan's Java library.
        (0, 998.2), (0.5, 1000.2), (1, 1002.1), (1.5, 1004.0), (2, 1006.0), (5, 1017.8), (10, 1038.1), (20, 1081.0),
        (30, 1127.0), (40, 1176.5), (50, 1229.5), (60, 1286.4), (66, 1322.4), (70, 1347.2),
    ],
)  # fmt: skip
def test_density(percent: float, kg_per_m3: float) -> None:
    assert density_kg_per_l(percent) * 1000 == pytest.approx(kg_per_m3, abs=0.05)


def test_twenty_litres_of_sap_weigh_what_the_table_says() -> None:
    assert boiled_down(20, 1.0).sap_kg == pytest.approx(20.04, abs=0.005)


@pytest.mark.parametrize(
    ("sap", "syrup", "ratio"),
    [
        # Mass balance worked out with those densities: density times per cent of the syrup over that of the sap.
        (1.0, 65.5, 86.24), (1.0, 66.0, 87.10), (1.0, 66.9, 88.66),
        (2.0, 65.5, 85.90 / 2), (2.0, 66.0, 86.76 / 2), (2.0, 66.9, 88.31 / 2),
        (0.6, 66.0, 145.38), (0.9, 66.0, 96.81), (1.2, 66.0, 72.52),
    ],
)  # fmt: skip
def test_litres_of_sap_a_litre_of_syrup(sap: float, syrup: float, ratio: float) -> None:
    assert boiled_down(1.0, sap, syrup).ratio == pytest.approx(ratio, abs=0.011)


@pytest.mark.parametrize(
    ("number", "syrup"),
    [
        # C. H. Jones; revised by Perkins & Isselhardt, University of Vermont (both via Farming Magazine).
        (86.0, None), (87.1, 66.0), (88.2, 66.9),
    ],
)  # fmt: skip
def test_rule_of_86_and_its_revisions(number: float, syrup: float | None) -> None:
    rule = next(rule for rule in RULES_OF_86 if rule.number == number)
    assert rule.syrup_brix == syrup
    assert rule.ratio(2.0) == number / 2
    if syrup is not None:
        # The revised rules are the mass balance of that syrup, to half of one per cent.
        assert number == pytest.approx(boiled_down(1.0, 1.0, syrup).ratio, rel=0.006)


def test_birch_of_alaska_lies_where_its_sugar_says() -> None:
    # University of Alaska Fairbanks Extension (J. Cascio) 2015, OneTree 2017: 100 to 120 litres a litre of syrup;
    # about 1 % of sugar or a little less is what birch has.
    assert ALASKA_RATIO == (100.0, 120.0)
    assert ALASKA_RATIO[0] < boiled_down(1.0, 0.8).ratio < ALASKA_RATIO[1]


@pytest.mark.parametrize(
    ("at_c", "read", "added"),
    [
        # OIV-MA-AS2-02, table I: to add to the per cent read.
        (10, 10, -0.59), (10, 20, -0.65), (10, 60, -0.75), (10, 65, -0.75),
        (15, 10, -0.32), (15, 20, -0.34), (15, 60, -0.38), (15, 65, -0.38), (12, 30, -0.56), (13, 40, -0.52),
        # Table A.1 of a Russian standard, docs.cntd.ru 1200157922.
        (10, 0, -0.50), (10, 5, -0.54), (12, 0, -0.42), (15, 5, -0.29), (17, 0, -0.17), (18, 10, -0.13),
        (19, 30, -0.07), (21, 0, 0.06),
    ],
)  # fmt: skip
def test_refractometer(at_c: float, read: float, added: float) -> None:
    assert at_20_c(read, at_c) - read == pytest.approx(added, abs=0.01 if at_c > 20 else 0.001)


def test_water_at_another_temperature_reads_what_its_refractive_index_says() -> None:
    # Index of water for the sodium line: 1.3337 at 10 °C, 1.3330 at 20 °C, 1.3319 at 30 °C (a table read on the web,
    # scubageek.com); 1 % of sucrose adds 0.00143 (from memory). Its last place is 0.07 % of sugar.
    assert at_20_c(0.5, 10) - 0.5 == pytest.approx((1.3330 - 1.3337) / 0.00143, abs=0.07)
    assert at_20_c(0.0, 30) == pytest.approx((1.3330 - 1.3319) / 0.00143, abs=0.07)


@pytest.mark.parametrize(
    ("celsius", "enthalpy"),
    [
        # Enthalpy of saturated water, kJ/kg: steam tables after NIST (Ohio University), by temperature.
        (5, 21.0), (10, 42.0), (20, 83.9), (50, 209.3), (80, 335.0), (90, 377.0),
    ],
)  # fmt: skip
def test_heat_that_warms_water(celsius: float, enthalpy: float) -> None:
    at_100 = 419.1  # the same tables' row of 100 °C, from memory
    assert HEAT_KJ_PER_KG_K * (100 - celsius) == pytest.approx(at_100 - enthalpy, rel=0.007)


def test_latent_heat() -> None:
    # CoolProp 8.0 (IAPWS-95) at 101.325 kPa, 99.974 °C: 2256.47 kJ/kg. The steam tables' rows of 80, 85 and 90 °C
    # (Ohio University: 2308.0, 2295.3, 2282.5) lead there by a parabola.
    assert pytest.approx(2256.47, abs=0.05) == LATENT_KJ_PER_KG
    least, middle, most = 2308.0, 2295.3, 2282.5
    bend = (most - 2 * middle + least) / 2
    at_100 = middle + 3 * (most - least) / 2 + 9 * bend
    assert pytest.approx(at_100, abs=1.0) == LATENT_KJ_PER_KG


@pytest.mark.parametrize(
    ("moisture", "kwh_per_kg"),
    [
        # Beech, stored and fresh: Danish Centre for Biomass Technology, fact sheet 67; birch lies a little lower.
        (0.20, 4.08), (0.45, 2.61),
    ],
)  # fmt: skip
def test_wood(moisture: float, kwh_per_kg: float) -> None:
    assert wood_kwh_per_kg(moisture) == pytest.approx(kwh_per_kg, rel=0.04)


def test_gallons() -> None:
    # By definition (UK Weights and Measures; NIST SP 811): 4.54609 L, 3.785411784 L, ratio 1.2009499.
    assert float(ML_PER["imp_gal"]) == 4546.09
    assert float(ML_PER["us_gal"]) == 3785.411784
    assert float(ML_PER["imp_gal"] / ML_PER["us_gal"]) == pytest.approx(1.2009499, abs=5e-8)


def test_birch_would_be_thin_where_maple_is_done() -> None:
    """Raoult's law for glucose and fructose: what the caution against a boiling point to stop at says."""

    def raised_k(percent: float) -> float:
        water, sugar = (100 - percent) / 18.015, percent / 180.156
        boiling = 373.124
        # Clausius and Clapeyron with the heat of evaporation near 100 °C, 40.66 kJ/mol.
        return 1 / (1 / boiling + 8.31446 / 40_660 * math.log(water / (water + sugar))) - boiling

    # Worked out ideally with CoolProp's water: 60 % 3.963 K, 66 % 5.047 K; sucrose stands at 66 % at 3.999 K.
    assert raised_k(60) == pytest.approx(3.963, abs=0.06)
    assert raised_k(66) == pytest.approx(5.047, abs=0.08)
    assert raised_k(59) < 3.999 < raised_k(61.5)
