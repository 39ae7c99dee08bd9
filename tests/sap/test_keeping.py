"""How long sap keeps: its age and its temperature trip a message at the published limits."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.sap.keeping import BILEK_2016, BILEK_STRICT, MAINE, Keeps, keeping


@pytest.mark.parametrize(
    ("age", "temperature", "level"),
    [
        # Bilek, Pytko & Sosnowski 2016: about 6 days refrigerated, no longer than 1 day at room temperature.
        (0, 4.0, Keeps.GOOD),
        (5, 4.0, Keeps.GOOD),
        (6, 4.0, Keeps.LAST_DAY),
        (7, 4.0, Keeps.PAST),
        (0, 18.0, Keeps.GOOD),
        (1, 18.0, Keeps.LAST_DAY),
        (2, 18.0, Keeps.PAST),
        (0, None, Keeps.GOOD),
        (1, None, Keeps.LAST_DAY),
        (2, None, Keeps.PAST),
        # Between a refrigerator and a room nothing is published: taken as warm.
        (2, 8.0, Keeps.PAST),
    ],
)
def test_limits_trip_on_their_day(age: int, temperature: float | None, level: Keeps) -> None:
    first = keeping(age, temperature)[0]
    assert first.level is level
    assert first.source == BILEK_2016


def test_the_stricter_source_is_told_beside_from_its_day_on() -> None:
    assert [one.source for one in keeping(2, 3.0)] == [BILEK_2016]
    assert [one.source for one in keeping(3, 3.0)] == [BILEK_2016, BILEK_STRICT]


def test_cold_but_not_cold_enough_for_maple_is_told() -> None:
    assert MAINE in [one.source for one in keeping(1, 4.5)]
    assert MAINE not in [one.source for one in keeping(1, 3.3)]


def test_what_is_not_known_is_said() -> None:
    assert "how it stands is not written down" in keeping(0, None)[0].text
    assert keeping(3, None)[0].text.endswith("unless it was chilled, pour it away")
    assert keeping(8, None)[0].text.endswith("unless it was frozen, pour it away")


@given(age=st.integers(0, 60), colder=st.floats(-3, 30), by=st.floats(0, 30))
def test_older_or_warmer_sap_is_never_told_to_keep_better(age: int, colder: float, by: float) -> None:
    order = list(Keeps)
    here = order.index(keeping(age, colder)[0].level)
    assert order.index(keeping(age + 1, colder)[0].level) >= here
    assert order.index(keeping(age, colder + by)[0].level) >= here
