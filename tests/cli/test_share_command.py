from __future__ import annotations

from pathlib import Path

import pytest

from standmap.cli.main import run
from standmap.jobs.sample_wood import make_sample
from tests.conftest import NOW


def test_a_map_to_share_is_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    wood = tmp_path / "alder-brook.gpkg"
    make_sample("alder-brook", wood, NOW)
    out = tmp_path / "map.html"
    assert run(["share", str(wood), "--out", str(out)]) == 0
    told = capsys.readouterr()
    assert told.out.strip() == str(out)
    assert "ask the owner" in told.err
    assert "<title>alder-brook</title>" in out.read_text(encoding="utf-8")
    assert run(["share", str(wood), "--out", str(out)]) == 2
    assert "is there already" in capsys.readouterr().err
    assert run(["share", str(wood), "--out", str(out), "--replace", "--with-gate", "--title", "our wood"]) == 0
    text = out.read_text(encoding="utf-8")
    assert "<title>our wood</title>" in text
    assert "the gate is not shown" not in text
