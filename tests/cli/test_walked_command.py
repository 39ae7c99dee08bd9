"""`walked`: the morning's track beside the walk that was given out."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

import pytest

from standmap.cli.main import run
from standmap.jobs.given_walk import give_out, given_walk
from standmap.jobs.round import RoundOptions, plan_round
from standmap.store.stand_file import StandFile
from tests.jobs.test_walked import AT, DAY, NOW, file, track

__all__ = ["file"]


def test_the_morning_beside_its_plan(
    file: StandFile, tmp_path: Path, today: date, capsys: pytest.CaptureFixture[str]
) -> None:
    assert today == DAY
    planned = plan_round(file.stand(), DAY, RoundOptions(capacity_kg=40, run_ml=2000))
    morning = track(tmp_path / "morning.gpx", [stop.tree.at for stop in planned.trips[0].stops])
    wood = str(file.path)
    assert run(["walked", wood, str(morning)]) == 2
    assert "no walk of 2026-03-28 was given out; plan that day with 'round'" in capsys.readouterr().err
    given = give_out(file, given_walk(planned, NOW))
    assert run(["walked", wood, str(morning), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert (answer["date"], answer["for"], answer["walk"]) == ("2026-03-28", "collecting", given.key)
    assert [stop["walked_order"] for stop in answer["stops"]] == [1, 2, 3, 4, 5]
    assert len(answer["stops"]) == len(AT)
    assert run(["walked", wood, str(morning)]) == 0
    shown = capsys.readouterr().out
    assert "expected 10.0 L, brought nothing written down yet" in shown
    assert all(f"B{k}" in shown for k in range(len(AT)))
    assert run(["walked", wood, str(morning), "--collector", "2"]) == 2
    assert "has no collector 2; it has 1" in capsys.readouterr().err
