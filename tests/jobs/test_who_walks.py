"""Who walks, from one line as it is typed."""

from __future__ import annotations

from datetime import time

import pytest

from standmap.errors import UserError
from standmap.jobs.round_options import Walker
from standmap.jobs.who_walks import walker_of


def test_parts_stand_in_any_order() -> None:
    whole = Walker("Ilse", 12.0, "lower gate", time(6, 10))
    assert walker_of("Ilse, 12 kg, from lower gate, 06:10") == whole
    assert walker_of("6:10,from lower gate ,Ilse,12kg") == whole
    assert walker_of("Ilse") == Walker("Ilse")
    assert walker_of("") == Walker()


def test_a_load_is_read_in_the_units_of_whoever_types_it() -> None:
    assert walker_of("26.5 lb", lambda text: 12.0 if text == "26.5 lb" else 0.0) == Walker(capacity_kg=12.0)
    with pytest.raises(UserError, match="not in kilograms"):
        walker_of("26.5 lb")


@pytest.mark.parametrize("text", ["Ilse, Per", "12 kg, 10 kg", "06:10, 06:20", "from gate, from tank"])
def test_what_is_said_twice_is_refused(text: str) -> None:
    with pytest.raises(UserError, match="says something twice"):
        walker_of(text)
