"""The day's aftercare under the rule set in force: whose figures, what is listed, and why nothing is due."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime

import pytest

from standmap.errors import NothingToDo, UserError
from standmap.jobs.aftercare import aftercare, care_plan, cautions_for, mark_done, others_on_plugging, plugging_told
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
    assert (plan.plug is None) is rules.figure("plug").lent
    figures = ["tube_most_days", "plug_within_days", "trim_after_days", "look_after_seasons"]
    for figure in figures if rules.figure("plug").lent else [*figures, "plug"]:
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


@pytest.mark.parametrize("name", [n for n in available() if load(n).figure("plug").lent])
def test_a_set_that_says_nothing_of_plugging_asks_for_neither_and_tells_so(name: str) -> None:
    out = ("h1", Act.TAKEN_OUT, date(2026, 4, 1)), ("h2", Act.TAKEN_OUT, date(2026, 4, 1))
    care = aftercare(stand(*out, rules={"set": name, "figures": {}}), APRIL, later=True)
    assert {d.need.what for d in care.due} == {Act.LOOKED_AT}
    assert not any(d.need.overdue for d in care.due)
    assert "does not say whether a hole is plugged" in plugging_told(care.rules)
    set_so: dict[str, object] = {"set": name, "figures": {"plug": 1}}
    assert {d.need.what for d in aftercare(stand(*out, rules=set_so), APRIL).due} == {Act.PLUGGED}


def test_others_on_plugging_are_named_with_their_sources_and_without_the_set_itself() -> None:
    others = [f"{what} ({source})" for what, source in others_on_plugging(load("belarus"))]
    assert not any("Belarus" in other for other in others)
    assert any(other.startswith("Lithuania, state land: plugged afterwards (Lithuanian rules") for other in others)
    assert any("Peninsula Clarion" in other for other in others)
    assert any("NE-155" in other for other in others)


def test_a_plug_is_asked_for_with_its_peg() -> None:
    made = stand(("h1", Act.TAKEN_OUT, date(2026, 4, 19)))
    holes = (replace(made.holes[0], bit_mm=8.0, depth_mm=30.0), made.holes[1])
    due = {d.hole.key: d for d in aftercare(replace(made, holes=holes), APRIL).due}
    peg = due["h1"].peg
    assert peg is not None
    assert (peg.thick_mm, peg.thin_mm, peg.long_mm, peg.noted) == (10.0, 7.0, 45.0, True)
    assert due["h2"].peg is None
    unknown = {d.hole.key: d for d in aftercare(made, APRIL).due}["h1"].peg
    assert unknown is not None
    assert (unknown.bit_mm, unknown.noted) == (load("cautious").value("hole_width_mm"), False)


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


def test_what_a_look_saw_is_written_for_looks_alone(stand_file: StandFile, now: datetime) -> None:
    made = stand(("h1", Act.LEFT_OPEN, date(2026, 4, 1)), ("h2", Act.TAKEN_OUT, date(2026, 4, 1)))
    with stand_file.writing("make", now) as writing:
        writing.insert_many(made.trees)
        writing.insert_many(made.holes)
        writing.insert_many(made.observations)
    autumn = date(2026, 10, 3)
    due = aftercare(stand_file.stand(), autumn).due
    mark_done(stand_file, due, autumn, now, seen=Act.SEEN_OPEN)
    acts = {(o.hole_key, o.what) for o in stand_file.stand().observations if o.observed_on == autumn}
    assert acts == {("h1", Act.SEEN_OPEN), ("h2", Act.PLUGGED)}
    again = [d.need for d in aftercare(stand_file.stand(), autumn, later=True).due if d.hole.key == "h1"]
    assert [(need.what, need.due_on) for need in again] == [(Act.LOOKED_AT, date(2027, 9, 1))]


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
