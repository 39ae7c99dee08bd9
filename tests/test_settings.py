"""Settings as data: within bounds or refused, kept small, migrated by number, and never lost to a newer program."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.errors import UserError
from standmap.jobs.round import CAPACITY_BOUNDS_KG, RoundOptions
from standmap.jobs.round_options import AIMS
from standmap.sap.expected import VESSEL_ML
from standmap.settings import SCHEMA, Kind, Settings, groups, kept_of, migrated, setting, settings_of


def test_every_setting_is_told_whole() -> None:
    assert [one.name for one in SCHEMA] == [f.name for f in fields(Settings)]
    for one in SCHEMA:
        assert one.title
        assert one.help
        assert one.group
        assert one.checked(one.default) == one.default
        assert one.read(one.written(one.default)) == one.default
    assert sum(len(g) for g in groups().values()) == len(SCHEMA)


def test_figures_of_rounds_are_those_of_the_rounds_themselves() -> None:
    settings, options = Settings(), RoundOptions()
    assert settings.vessel_ml == options.vessel_ml == VESSEL_ML
    assert (settings.capacity_kg, settings.can_kg) == (options.capacity_kg, options.can_kg)
    assert settings.collectors == options.collectors
    assert (settings.can_l, settings.vessel_kg, settings.swap_vessels) == (
        options.can_l,
        options.vessel_kg,
        options.swap_vessels,
    )
    assert (settings.aim, settings.margin_min) == (options.aim, options.margin_min)
    assert tuple(sorted(setting("aim").choices)) == tuple(sorted(AIMS))
    load = setting("capacity_kg")
    assert (load.least, load.most) == CAPACITY_BOUNDS_KG


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("units", "roods"),
        ("units", 3),
        ("text_size_percent", 99),
        ("text_size_percent", 201),
        ("text_size_percent", 150.5),
        ("text_size_percent", True),
        ("names_on_map", "yes"),
        ("names_on_map", 1),
        ("capacity_kg", float("nan")),
        ("capacity_kg", 40.01),
        ("collectors", None),
        ("national_grid_epsg", 12),
        ("backup_folder", "copies"),
        ("backup_folder", "/copies\0"),
        ("backup_folder", "/" + "a" * 1000),
    ],
)
def test_what_is_not_allowed_is_refused_with_what_is(name: str, value: Any) -> None:
    with pytest.raises(UserError) as caught:
        replace(Settings(), **{name: value})
    assert caught.value.what.startswith(setting(name).title)
    assert caught.value.remedy == setting(name).allowed()


@pytest.mark.parametrize(
    ("name", "text", "value"),
    [
        ("units", "Imperial", "imperial"),
        ("look", "high contrast", "high contrast"),
        ("names_on_map", "No", False),
        ("capacity_kg", "12,5", 12.5),
        ("collectors", "2", 2),
        ("national_grid_epsg", "3067", 3067),
        ("national_grid_epsg", " ", None),
        ("collectors", "", 1),
        ("backup_folder", "~/copies", "~/copies"),
    ],
)
def test_values_are_read_as_people_write_them(name: str, text: str, value: Any) -> None:
    one = setting(name)
    assert one.read(text) == value
    assert one.read(one.written(one.read(text))) == value


@pytest.mark.parametrize(
    ("name", "text"), [("collectors", "2.5"), ("collectors", "two"), ("names_on_map", "1"), ("collectors", "9e300")]
)
def test_texts_that_are_no_value_are_refused(name: str, text: str) -> None:
    with pytest.raises(UserError):
        setting(name).read(text)


def test_an_unknown_name_is_told_with_those_there_are() -> None:
    with pytest.raises(UserError, match=r"no setting is called 'colour'.*units"):
        setting("colour")


def test_cans_heavier_than_the_load_are_refused() -> None:
    with pytest.raises(UserError, match="leave no room"):
        Settings(capacity_kg=5, can_kg=5)
    settings, cautions = settings_of({"capacity_kg": 5, "can_kg": 9, "units": "us"})
    assert settings == Settings(units="us")
    assert len(cautions) == 1


def test_a_bad_value_falls_back_alone_and_is_told() -> None:
    settings, cautions = settings_of({"format": 1, "units": "us", "collectors": 99, "look": ["dark"]})
    assert settings == Settings(units="us")
    assert cautions == (
        "look: '['dark']' cannot be set; it is system again",
        "collectors: '99' cannot be set; it is 1 again",
    )


def test_only_what_differs_is_kept_and_the_unknown_stays() -> None:
    kept = kept_of(Settings(units="us", collectors=2), {"format": 1, "look": "dark", "of_a_plug": [1, 2]})
    assert kept == {"format": 1, "of_a_plug": [1, 2], "units": "us", "collectors": 2}
    assert kept_of(Settings(), {"format": 7, "moon": "full"}) == {"format": 7, "moon": "full"}


def test_migration_runs_each_step_once_and_in_order() -> None:
    steps = {
        1: lambda kept: {**kept, "units": {"uk": "imperial"}.get(kept["units"], kept["units"])},
        2: lambda kept: {("collectors" if k == "people" else k): v for k, v in kept.items()},
    }
    settings, cautions = settings_of({"format": 1, "units": "uk", "people": 3}, steps, 3)
    assert settings == Settings(units="imperial", collectors=3)
    assert not cautions
    assert migrated({"format": 3, "people": 3}, steps, 3) == {"format": 3, "people": 3}
    assert settings_of({"format": -(10**18), "units": "us"}) == (Settings(units="us"), ())
    assert migrated({"format": "x", "units": "us"}, {}, 1) == {"format": "x", "units": "us"}


@given(
    st.dictionaries(
        st.sampled_from([*(one.name for one in SCHEMA), "format", "other"]),
        st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=20), st.lists(st.integers())),
    )
)
def test_whatever_is_kept_gives_settings(kept: dict[str, Any]) -> None:
    settings, _ = settings_of(kept)
    again, cautions = settings_of(kept_of(settings, kept))
    assert again == settings
    assert not cautions


def test_the_kinds_are_all_in_use() -> None:
    assert {one.kind for one in SCHEMA} == set(Kind)
