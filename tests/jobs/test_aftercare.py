"""The day's aftercare under the rule set in force: whose figures, what is listed, and why nothing is due."""

from __future__ import annotations

from datetime import date, datetime

import pytest

from standmap.errors import NothingToDo, UserError
from standmap.jobs.aftercare import aftercare, care_plan, cautions_for, mark_done
from standmap.jobs.taking_back import undo
from standmap.rules.ruleset import available, load
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Act, Observation, TapHole, Wound
from standmap.stand.tree import Standing, Tree
from standmap.store.stand_file import StandFile

APRIL = date(2026, 4, 20)


def stand(*acts: tuple[str, Act, date], rules: dict[str, object] | None = None) -> Stand:
    """Return two trees with a hole each of 2026-03-20 and 2026-03-25, and what was done to them."""
    return Stand(
        trees=(Tree("1", "B1", (27.0, 62.0)), Tree("2", "B2", (27.001, 62.0))),
        holes=(
            TapHole("h1", "1", 1, Wound.HOLE, date(2026, 3, 20)),
            TapHole("h2", "2", 1, Wound.HOLE, date(2026, 3, 25)),
        ),
        observations=tuple(
            Observation(f"o{i}", hole.removeprefix("h"), hole, what, on) for i, (hole, what, on) in enumerate(acts)
        ),
        settings={"rules": rules} if rules else {},
    )


@pytest.mark.parametrize("name", available())
def test_every_rule_set_makes_a_plan_in_its_own_name(name: str) -> None:
    rules = load(name)
    plan = care_plan(rules)
    assert plan.rule == rules.title
    for figure in ("plug", "tube_most_days", "plug_within_days", "trim_after_days", "look_after_seasons"):
        found = getattr(plan, figure)
        assert (found.value, found.source) == (rules.value(figure), rules.figure(figure).source)


def test_what_is_due_only_later_is_listed_when_asked_for() -> None:
    day = date(2026, 4, 3)
    assert [(d.tree.name, d.hole.key, d.need.due_on) for d in aftercare(stand(), day).due] == [("B1", "h1", day)]
    everything = aftercare(stand(), day, later=True)
    assert [d.tree.name for d in everything.due] == ["B1", "B2"]
    assert everything.counts == {"taken out": 2}
    assert everything.why_nothing == ""


def test_counts_follow_the_order_of_the_work_and_hold_what_is_listed() -> None:
    care = aftercare(stand(("h1", Act.TAKEN_OUT, date(2026, 4, 1))), APRIL)
    assert list(care.counts.items()) == [("taken out", 1), ("plugged", 1)]
    assert [str(d.need.what) for d in care.due] == ["plugged", "taken out"]


def test_the_rule_set_in_force_says_whether_to_plug_and_is_named() -> None:
    out = ("h1", Act.TAKEN_OUT, date(2026, 4, 19)), ("h2", Act.TAKEN_OUT, date(2026, 4, 19))
    cases: tuple[tuple[dict[str, object], Act, str], ...] = (
        ({}, Act.PLUGGED, "common practice, no source"),
        ({"set": "cautious", "figures": {"plug": 0}}, Act.LEFT_OPEN, "set for this stand, in place of plug"),
        ({"set": "belarus", "figures": {}}, Act.PLUGGED, "Belarusian Ministry of Forestry"),
    )
    for rules, what, source in cases:
        care = aftercare(stand(*out, rules=rules), APRIL)
        assert {d.need.what for d in care.due} == {what}
        assert all(source in d.need.source and d.need.rule == care.rules.title for d in care.due)


def test_a_figure_set_for_the_stand_moves_the_due_day() -> None:
    care = aftercare(stand(rules={"set": "cautious", "figures": {"tube_most_days": 30}}), APRIL, later=True)
    assert [d.need.due_on for d in care.due] == [date(2026, 4, 19), date(2026, 4, 24)]
    assert "set for this stand" in care.due[0].need.source
    with pytest.raises(UserError, match="tube_most_days 90 is above 60"):
        aftercare(stand(rules={"set": "cautious", "figures": {"tube_most_days": 90}}), APRIL)


def test_why_nothing_is_due() -> None:
    assert aftercare(Stand(), APRIL).why_nothing == "nothing is due on 2026-04-20: no hole or slit was made by then"
    assert "no hole or slit was made by then" in aftercare(stand(), date(2025, 4, 1)).why_nothing
    later = aftercare(stand(), date(2026, 3, 28))
    assert (later.due, dict(later.counts)) == ((), {})
    assert later.why_nothing == (
        "nothing is due on 2026-03-28: the next is 'taken out' at B1 on 2026-04-03 (--all lists what is due later)"
    )
    felled = Stand(
        trees=(Tree("1", "B1", (27.0, 62.0), standing=Standing.FELLED),),
        holes=(TapHole("h1", "1", 1, Wound.HOLE, date(2026, 3, 20)),),
    )
    for care in (aftercare(felled, APRIL), aftercare(felled, APRIL, later=True)):
        assert "every wound of a standing tree is closed and was looked at" in care.why_nothing


def test_cautions_go_with_the_work_that_is_asked_for() -> None:
    taking = " ".join(cautions_for(aftercare(stand(), APRIL)))
    assert "ladder" in taking
    assert "knife" not in taking
    trimming = " ".join(cautions_for(aftercare(stand(("h1", Act.PLUGGED, date(2026, 4, 1))), date(2026, 7, 1))))
    assert "knife" in trimming
    closed = stand(("h1", Act.LEFT_OPEN, date(2026, 4, 1)), ("h2", Act.LEFT_OPEN, date(2026, 4, 1)))
    looking = " ".join(cautions_for(aftercare(closed, date(2026, 9, 1))))
    assert "wounds close, they do not heal" in looking
    assert "knife" not in looking
    assert all("local rules" in text for text in (taking, trimming, looking))


def stored(file: StandFile, now: datetime) -> None:
    made = stand()
    with file.writing("make", now) as writing:
        writing.insert_many(made.trees)
        writing.insert_many(made.holes)


def test_what_is_marked_as_done_is_one_step_and_what_comes_next_is_asked_for(
    stand_file: StandFile, now: datetime
) -> None:
    stored(stand_file, now)
    due = aftercare(stand_file.stand(), APRIL).due
    assert [(d.tree.name, str(d.need.what)) for d in due] == [("B1", "taken out"), ("B2", "taken out")]
    report = mark_done(stand_file, due, APRIL, now)
    assert report.acts == 2
    assert stand_file.history()[-1].label == "taken out: B1, B2"
    after = aftercare(stand_file.stand(), date(2026, 5, 20)).due
    assert {str(d.need.what) for d in after} == {"plugged"}
    undo(stand_file, now)
    assert [d.need for d in aftercare(stand_file.stand(), APRIL).due] == [d.need for d in due]


def test_one_that_cannot_have_been_done_that_day_keeps_all_from_being_written(
    stand_file: StandFile, now: datetime
) -> None:
    stored(stand_file, now)
    due = aftercare(stand_file.stand(), APRIL).due
    with pytest.raises(UserError, match="B2 has no hole with its tube in 1 on 2026-03-22"):
        mark_done(stand_file, due, date(2026, 3, 22), now)  # B2 was tapped on the 25th
    assert not stand_file.stand().observations
    with pytest.raises(NothingToDo):
        mark_done(stand_file, (), APRIL, now)
