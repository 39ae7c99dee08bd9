"""The line of hours of a walk."""

from __future__ import annotations

from datetime import time

from standmap.desktop.pages.collect.walk_told import light_line
from standmap.jobs.round import plan_round
from standmap.jobs.round_options import RoundOptions
from tests.jobs.round_woods import DAY, wood


def test_a_walk_past_midnight_tells_the_day_on_which_it_ends() -> None:
    late = plan_round(wood((20, 0)), DAY, RoundOptions(sets_out=time(23, 50)))
    assert "back by 2026-03-29, 00:2" in light_line(late)
    early = plan_round(wood((20, 0)), DAY, RoundOptions(sets_out=time(6, 0)))
    assert "back by 06:3" in light_line(early)
