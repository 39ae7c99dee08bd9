"""The demonstration: a survey made into a map first, then the year of the sample wood."""

from __future__ import annotations

from pathlib import Path

import pytest

from standmap.cli.main import run
from standmap.jobs.opening import open_stand
from standmap.stand.sights import Sight


def test_it_plots_a_new_stand_from_a_survey_and_adjusts_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["demo", "--out", str(tmp_path), "--no-window"]) == 0
    out = capsys.readouterr().out
    first, second = out.index("1. A slope"), out.index("2. Plot the wood")
    told = out[first:second]
    assert "the walk stood at 12 trees, each sure within" in told
    assert "the notes' clock (notes.csv) is 3 h" in told
    assert "disagrees: the distance from G3 to G6 (line 10)" in told
    assert "adjusted: 9 trees moved, each now sure within" in told
    assert max(map(len, told.splitlines())) <= 120
    with open_stand(tmp_path / "north-slope.gpkg", read_only=True) as file:
        assert [event.label for event in file.history()][1:] == ["adjust 9 positions"]
        assert len(file.rows(Sight)) == 13
        assert len(file.stand().trees) == 20
    sap = out[out.index("7. Bring together") : out.index("Written:")]
    assert "35.7 L of 9 trees; 1.4 °Bx read at 12 °C are 0.97" in sap
    assert "boiling the other 30.7 L would give about 0.34 L of syrup, in 3.8 h with 23 kg of wood" in sap
    with open_stand(tmp_path / "alder-brook.gpkg", read_only=True) as file:
        assert [(b.name, b.volume_ml) for b in file.stand().batches] == [("Friday", 30_700), ("to drink", 5000)]
    assert run(["demo", "--out", str(tmp_path), "--no-window"]) == 0  # again, over what is there
