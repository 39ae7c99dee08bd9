"""Following a receiver at a terminal."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest

from standmap.cli.main import run
from standmap.jobs.opening import new_stand, open_stand
from standmap.stand.walks import Walk
from tests.nmea_logs import sentence, standing

MORNING = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
Caught = pytest.CaptureFixture[str]


@pytest.fixture
def stand(stand_path: Path) -> str:
    new_stand(stand_path)
    return str(stand_path)


@pytest.fixture
def log(tmp_path: Path) -> str:
    path = tmp_path / "still.log"
    path.write_bytes(standing(MORNING, 29.7636, 62.601, 120))
    return str(path)


def test_it_tells_where_you_stand_and_how_sure(stand: str, log: str, capsys: Caught) -> None:
    assert run(["follow", stand, "--replay", log, "--speed", "0"]) == 0
    caught = capsys.readouterr()
    assert "95 % sure within 4.9 m, as the receiver tells" in caught.out
    assert "following still.log" in caught.err or "come to its end" in caught.err


def test_a_position_is_taken_and_the_track_kept(stand: str, log: str, capsys: Caught) -> None:
    command = ["follow", stand, "--replay", log, "--speed", "0", "--take", "L1", "--keep", "morning", "--json"]
    assert run(command) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["taken"]["tree"] == "L1"
    assert answer["taken"]["new"] is True
    assert answer["walk"]["name"] == "morning"
    with open_stand(Path(stand), read_only=True) as file:
        assert file.stand().tree("L1").at == (answer["taken"]["lon"], answer["taken"]["lat"])
        assert len(file.rows(Walk)) == 1
    assert run(["follow", stand, "--replay", log, "--speed", "0", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["near"][0]["tree"] == "L1"


def test_no_fix_is_no(stand: str, tmp_path: Path, capsys: Caught) -> None:
    path = tmp_path / "start.log"
    path.write_bytes(sentence("GPRMC,,V,,,,,,,,,,N"))
    assert run(["follow", stand, "--replay", str(path), "--speed", "0", "--json"]) == 1
    caught = capsys.readouterr()
    assert caught.out == ""
    assert "there was no fix" in caught.err


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ([], "it is not clear what to follow"),
        (["--tcp", "192.0.2.1:80"], "another machine"),
        (["--tcp", "nonsense"], "no host and port"),
        (["--replay", "nowhere.log"], "there is no such file"),
        (["--port", "/dev/null", "--baud", "7"], "is no rate"),
        (["--tcp", ":1", "--within", "0"], "a precision of 0 m"),
        (["--tcp", ":1", "--seconds", "0"], "0 seconds cannot be"),
    ],
)
def test_what_cannot_be_followed_is_refused(stand: str, more: list[str], said: str, capsys: Caught) -> None:
    assert run(["follow", stand, *more]) == 2
    assert said in capsys.readouterr().err


def test_it_ends_after_the_time_given(stand: str, capsys: Caught) -> None:
    assert run(["follow", stand, "--tcp", ":1", "--seconds", "0.3"]) == 1
    assert "no program answers there" in capsys.readouterr().err
