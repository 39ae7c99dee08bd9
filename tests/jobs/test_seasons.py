"""The seasons of a stand: where they begin and end, what each counts, and the same on the command line."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from standmap.cli.main import run
from standmap.errors import UserError
from standmap.jobs.judge import judge
from standmap.jobs.opening import open_stand
from standmap.jobs.rule_choice import choose_rules, keep_rules, own_figures, rules_of
from standmap.jobs.seasons import MOST_SEASONS_BACK, When, first_season, seasons
from standmap.progress import Unwatched
from standmap.rules.columns import columns
from standmap.rules.ruleset import load
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import TapHole, Wound
from standmap.stand.tree import Measurement, Tree

TODAY = date(2026, 3, 28)
NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)


def wood(*tapped: int, measured: date | None = date(2024, 9, 14)) -> Stand:
    """Return four birches, of which the first was tapped in these years; the last was never measured."""
    trees = tuple(Tree(f"k{i}", f"B{i}", (27 + i / 1000, 62.0), "Betula pendula") for i in range(4))
    girths = tuple(
        Measurement(f"m{i}", f"k{i}", measured, girth, None, "", "mm") for i, girth in enumerate([842.0, 900.0, 500.0])
    )
    holes = tuple(TapHole(f"h{y}", "k0", 1, Wound.HOLE, date(y, 3, 20)) for y in tapped)
    return Stand(trees, girths, holes)


def test_seasons_run_from_the_first_record_to_ten_ahead() -> None:
    found = seasons(columns(wood(2021, 2025)), load("cautious"), TODAY)
    assert [s.season for s in found] == list(range(2021, 2037))
    assert [s.when for s in found] == [When.PAST] * 5 + [When.NOW] + [When.AHEAD] * 10
    assert {s.trees for s in found} == {4}


@pytest.mark.parametrize(
    ("stand", "first"),
    [
        (wood(), 2024),
        (wood(measured=None), 2026),
        (wood(2030, measured=None), 2026),
        (wood(measured=date(1024, 9, 14)), 2026 - MOST_SEASONS_BACK),
    ],
    ids=["measured", "no dated record", "only ahead", "a slip of the pen"],
)
def test_the_first_season_is_that_of_the_oldest_record(stand: Stand, first: int) -> None:
    assert first_season(columns(stand), TODAY) == first


def test_each_season_counts_what_the_judging_of_that_season_says() -> None:
    stand = wood(2021, 2025)
    for found in seasons(columns(stand), load("cautious"), TODAY):
        assert found.counts == judge(stand, found.season).counts, found.season


def test_a_season_ahead_is_as_if_nothing_more_were_tapped() -> None:
    found = {s.season: s.counts for s in seasons(columns(wood(2026)), load("cautious"), TODAY)}
    assert (found[2026]["giving"], found[2026]["ready"]) == (1, 1)
    assert (found[2029]["resting"], found[2029]["ready"]) == (1, 1)
    assert (found[2030]["resting"], found[2030]["ready"]) == (0, 2)
    assert found[2036]["growing on"] == 1, "a girth is not made to grow"


def test_a_stand_without_trees_has_no_seasons() -> None:
    assert seasons(columns(Stand()), load("cautious"), TODAY) == ()


class Hasty(Unwatched):
    def __init__(self) -> None:
        self.told: list[tuple[float, float]] = []

    def at(self, done: float, total: float, what: str) -> None:
        assert what
        self.told.append((done, total))

    def stop_wanted(self) -> bool:
        return len(self.told) == 3


def test_the_counting_tells_how_far_it_is_and_can_be_stopped() -> None:
    watch = Hasty()
    with pytest.raises(UserError, match="stopped"):
        seasons(columns(wood(2021)), load("cautious"), TODAY, watch)
    assert watch.told == [(0, 16), (1, 16), (2, 16)]


# The command line


@pytest.fixture
def path(stand_path: Path, today: date) -> Path:
    assert today == TODAY
    stand = wood(2022)
    assert run(["new", str(stand_path)]) == 0
    with open_stand(stand_path) as file, file.writing("plant", NOW) as writing:
        for rows in (stand.trees, stand.measurements, stand.holes):
            writing.insert_many(rows)
    return stand_path


def answer(capsys: pytest.CaptureFixture[str], *arguments: str, code: int = 0) -> Any:
    capsys.readouterr()
    assert run([*arguments, "--json"]) == code
    return json.loads(capsys.readouterr().out)


def test_judge_answers_for_every_season_in_its_shape(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = answer(capsys, "judge", str(path), "--seasons")
    assert found["rules"] == "cautious"
    assert [s["season"] for s in found["seasons"]] == list(range(2022, 2037))
    for told in found["seasons"]:
        assert told["counts"] == answer(capsys, "judge", str(path), "--season", str(told["season"]))["counts"]
    longer = answer(capsys, "judge", str(path), "--seasons", "--set", "return_after_years=10")["seasons"]
    assert [s["season"] for s in longer if s["counts"]["resting"]] == list(range(2024, 2032))


def test_the_table_of_seasons_says_what_a_season_ahead_means(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    capsys.readouterr()
    assert run(["judge", str(path), "--seasons"]) == 0
    shown = capsys.readouterr()
    assert [line.split()[:2] for line in shown.out.splitlines()[3:]][3:6] == [
        ["2025", "past"],
        ["2026", "now"],
        ["2027", "ahead"],
    ]
    assert "as if no more trees were tapped" in shown.err
    assert "local rules" in shown.err


@pytest.mark.parametrize("more", [["--season", "2026"], ["--only", "resting"]])
def test_seasons_are_not_asked_for_together_with_one(
    path: Path, more: Sequence[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["judge", str(path), "--seasons", *more]) == 2
    assert "leave --season and --only out" in capsys.readouterr().err


def test_an_empty_stand_answers_no(stand_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(["new", str(stand_path)])
    assert answer(capsys, "judge", str(stand_path), "--seasons", code=1) == {"rules": "cautious", "seasons": []}


# Whose figures


def test_own_figures_are_kept_and_put_back_as_one_edit_each(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with open_stand(path) as file:
        keep_rules(file, NOW, "finland", {"return_after_years": 6, "plug": 1})
        assert own_figures(file.stand()) == {"return_after_years": 6, "plug": 1}
        steps = len(file.history())
        kept = choose_rules(file, NOW, as_printed=["plug"])
        assert (kept.id, kept.return_after_years) == ("finland", 6)
        assert own_figures(file.stand()) == {"return_after_years": 6}
        assert len(file.history()) == steps + 1
        file.undo(NOW)
        assert own_figures(file.stand()) == {"return_after_years": 6, "plug": 1}
        keep_rules(file, NOW, "finland", {})
        assert rules_of(file.stand()) == load("finland")
    answer(capsys, "rules", str(path), "--set", "return_after_years=7")
    found = answer(capsys, "rules", str(path), "--as-printed", "return_after_years")
    (rest,) = [f for f in found["figures"] if f["name"] == "return_after_years"]
    assert rest["value"] == load("finland").return_after_years
    assert "set for this stand" not in rest["source"]


def test_another_set_leaves_own_figures_behind(path: Path) -> None:
    with open_stand(path) as file:
        choose_rules(file, NOW, None, {"return_after_years": 6})
        choose_rules(file, NOW, "alaska")
        assert own_figures(file.stand()) == {}


@pytest.mark.parametrize(
    ("rule_set", "own", "told"),
    [
        ("cautious", {"return_after_years": 2}, "below 3"),
        ("cautious", {"hole_depth_least_mm": 16.0}, "is above hole_depth_most_mm"),
        ("cautious", {"rest": 4}, "no figure 'rest'"),
        ("nobody", {}, "no rule set 'nobody'"),
    ],
)
def test_what_does_not_fit_is_told_and_nothing_is_kept(path: Path, rule_set: str, own: Any, told: str) -> None:
    with open_stand(path) as file:
        before = file.history()
        with pytest.raises(UserError, match=told):
            keep_rules(file, NOW, rule_set, own)
        assert file.history() == before
    assert run(["rules", str(path), "--as-printed", "rest"]) == 2


def test_merged_trees_are_not_counted() -> None:
    from standmap.stand.tree import Standing

    stand = wood(2022)
    gone = replace(stand.trees[3], standing=Standing.MERGED)
    merged = replace(stand, trees=(*stand.trees[:3], gone))
    assert {s.trees for s in seasons(columns(merged), load("cautious"), TODAY)} == {3}
