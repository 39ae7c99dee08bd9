"""Measures at the edges: honest rounding, whose gallon it is, and back again in the unit shown."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.errors import UserError
from standmap.units_shown import System, UnitsShown, file_size

METRIC, IMPERIAL, US = (UnitsShown(system) for system in System)
ALL = (METRIC, IMPERIAL, US)


def test_one_measure_in_three_systems() -> None:
    """9 in are 228.6 mm; 1 imperial gallon 4.54609 L, 1 US gallon 3.785411784 L, 1 lb 0.45359237 kg by definition."""
    assert [u.girth(842.4) for u in ALL] == ["842 mm", "33.2 in", "33.2 in"]
    assert [u.height(900) for u in ALL] == ["90 cm", "35 in", "35 in"]
    assert [u.depth(12) for u in ALL] == ["12 mm", "0.47 in", "0.47 in"]
    assert [u.distance(163.2) for u in ALL] == ["163 m", "178 yd", "535 ft"]
    assert [u.distance(2400) for u in ALL] == ["2.40 km", "1.49 mi", "1.49 mi"]
    assert [u.accuracy(0.4) for u in ALL] == ["± 0.4 m", "± 1.3 ft", "± 1.3 ft"]
    assert [u.area(850) for u in ALL] == ["850 m²", "1017 sq yd", "9149 sq ft"]
    assert [u.area(12_500) for u in ALL] == ["1.25 ha", "3.09 acres", "3.09 acres"]
    assert [u.volume(2950) for u in ALL] == ["3.0 L", "0.65 imp gal", "0.78 US gal"]
    assert [u.volume(227_304.5) for u in ALL] == ["227 L", "50.0 imp gal", "60.0 US gal"]
    assert [u.mass(14.9) for u in ALL] == ["14.9 kg", "32.8 lb", "32.8 lb"]
    assert [u.volumes(55_000, 91_000) for u in ALL] == ["55–91 L", "12.10–20.02 imp gal", "14.53–24.04 US gal"]


def test_a_span_of_nothing_is_one_number() -> None:
    assert METRIC.volumes(3000, 3001) == "3.0 L"


def test_large_numbers_nought_and_the_decimal_comma() -> None:
    assert METRIC.girth(12_345) == "12\u202f345 mm"
    assert METRIC.volume(-1) == "0.0 L"
    assert UnitsShown(System.METRIC, ",").volume(2900) == "2,9 L"
    assert UnitsShown(System.US, ",").read_volume("0,77")[0] == pytest.approx(2914.767, abs=0.001)


@pytest.mark.parametrize("units", ALL, ids=lambda u: u.system.value)
def test_a_gallon_is_never_shown_without_its_owner(units: UnitsShown) -> None:
    for ml in (1, 500, 4546.09, 100_000, 1e7):
        shown = units.volume(ml)
        assert "gal" not in shown or shown.endswith(("imp gal", "US gal"))


@given(
    st.sampled_from(ALL),
    st.floats(1, 9000),
    st.floats(0, 60_000),
    st.floats(0, 100),
    st.floats(0, 1900),
)
def test_what_is_shown_is_read_back_as_shown(
    units: UnitsShown, girth_mm: float, volume_ml: float, mass_kg: float, distance_m: float
) -> None:
    for shown, show, read in (
        (units.girth(girth_mm), units.girth, units.read_girth_mm),
        (units.height(girth_mm), units.height, units.read_height_mm),
        (units.depth(girth_mm), units.depth, units.read_depth_mm),
        (units.mass(mass_kg), units.mass, units.read_mass_kg),
        (units.distance(distance_m), units.distance, units.read_distance_m),
    ):
        assert show(read(shown)) == shown
        assert show(read(units.number(shown))) == shown  # in the unit shown when none is typed
    shown = units.volume(volume_ml)
    assert units.volume(units.read_volume(shown)[0]) == shown


def test_what_is_typed_may_carry_another_unit() -> None:
    assert METRIC.read_girth_mm("33.2 in") == 843.28
    assert METRIC.read_girth_mm('9"') == 228.6
    assert US.read_girth_mm("84.2 cm") == 842
    assert US.read_girth_mm("9") == 228.6
    assert METRIC.read_volume("1 imp gal") == (4546.09, "1", "imp_gal")
    assert METRIC.read_volume("2 US gallons") == (7570.823568, "2", "us_gal")
    assert IMPERIAL.read_volume("0.5") == (2273.045, "0.5", "imp_gal")
    assert IMPERIAL.read_volume("2.95 L") == (2950.0, "2.95", "l")
    assert US.read_mass_kg("10 kg") == 10
    assert METRIC.read_distance_m("1 km") == 1000


@pytest.mark.parametrize("text", ["3 gal", "3 gallons", "3gal"])
@pytest.mark.parametrize("units", ALL, ids=lambda u: u.system.value)
def test_a_gallon_of_nobody_is_asked_about(units: UnitsShown, text: str) -> None:
    with pytest.raises(UserError, match="imperial or US"):
        units.read_volume(text)


@pytest.mark.parametrize("text", ["", "two", "mm", "84 stone", "1.2.3", "84 mm 3", "\u202e84x", "🌳"])
def test_what_is_no_length_is_refused(text: str) -> None:
    with pytest.raises(UserError):
        METRIC.read_girth_mm(text)


def test_sizes_of_files_are_told_in_words() -> None:
    assert [file_size(n) for n in (96_400, 999_400, 12_480_000)] == ["96 kB", "999 kB", "12.5 MB"]


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused(text: str) -> None:
    for read in (METRIC.read_girth_mm, US.read_volume, IMPERIAL.read_mass_kg):
        try:
            read(text)
        except UserError as error:
            assert error.remedy  # noqa: PT017 - either outcome is right


def test_measures_in_a_finished_sentence() -> None:
    told = "B03: girth was 1434 mm in 2024 and is 305 mm now: a stem does not shrink"
    assert METRIC.in_sentence(told) == told
    assert US.in_sentence(told) == "B03: girth was 56.5 in in 2024 and is 12.0 in now: a stem does not shrink"
    assert IMPERIAL.in_sentence("3 L a hole and night is assumed") == "0.66 imp gal a hole and night is assumed"
    assert US.in_sentence("2.0 to 3.5 L a hole and night") == "0.53 to 0.92 US gal a hole and night"
    assert US.in_sentence("a hole 12 mm wide") == "a hole 0.47 in wide"
    assert US.in_sentence("girth 628 mm is below 629 mm") == "girth 24.7 in is below 24.8 in"
    assert US.in_sentence("girth 719 mm is below 720 mm") == "girth 28.31 in is below 28.35 in"
    assert METRIC.lengths_in_sentence("3.4 m off") == "3.4 m off"
    assert US.lengths_in_sentence("closes 0.31 m off over 182 m, B4 m") == "closes 1.0 ft off over 597 ft, B4 m"
    assert IMPERIAL.lengths_in_sentence("2.1 m east; '5 m'") == "6.9 ft east; '5 m'"
    assert [METRIC.length(m) for m in (0.118, 3.44, 181.6)] == ["0.12 m", "3.4 m", "182 m"]
    assert US.in_sentence("no tree is called '12 mm', B12 mm, 5 m") == "no tree is called '12 mm', B12 mm, 5 m"
