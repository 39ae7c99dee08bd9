"""What each wound needs next: the steps in their order, due days, and that doing what is asked moves a wound on."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.aftercare.needs import CareFigure, CarePlan, Need, ended, needs
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import CLOSING, Act, Observation, TapHole, Wound
from standmap.stand.tree import Standing, Tree

PLAN = CarePlan(
    rule="a rule",
    plug=CareFigure(1, "who asks for a plug"),
    tube_most_days=CareFigure(14, "who limits the tube"),
    plug_within_days=CareFigure(2, "who says how soon"),
    trim_after_days=CareFigure(60, "who says when to trim"),
    look_after_seasons=CareFigure(1, "who says when to look"),
)
OPEN_PLAN = replace(PLAN, plug=CareFigure(0, "who lets it open"))
MADE = date(2026, 3, 20)


def tree(key: str = "1", standing: Standing = Standing.STANDING, since: date | None = None) -> Tree:
    return Tree(key, f"B{key}", (27.0, 62.0), standing=standing, standing_since=since)


def wound(key: str = "h", tree_key: str = "1", made: date = MADE, kind: Wound = Wound.HOLE, number: int = 1) -> TapHole:
    return TapHole(key, tree_key, number, kind, made)


def done(what: Act, on: date, hole: str | None = "h", tree_key: str = "1") -> Observation:
    return Observation(f"{hole}-{what}-{on}", tree_key, hole, what, on)


def stand(*acts: Observation, hole: TapHole | None = None, trees: tuple[Tree, ...] = (tree(),)) -> Stand:
    return Stand(trees=trees, holes=(hole or wound(),), observations=acts)


def one(found: tuple[Need, ...]) -> Need:
    (need,) = found
    return need


OUT = done(Act.TAKEN_OUT, date(2026, 4, 1))
PLUGGED = done(Act.PLUGGED, date(2026, 4, 2))
OPEN = done(Act.LEFT_OPEN, date(2026, 4, 2))
TRIMMED = done(Act.TRIMMED, date(2026, 6, 10))
SLIT = wound(kind=Wound.SLIT)


@pytest.mark.parametrize(
    ("hole", "acts", "plan", "what", "due", "source"),
    [
        (wound(), (), PLAN, Act.TAKEN_OUT, date(2026, 4, 3), "who limits the tube"),
        (wound(), (OUT,), PLAN, Act.PLUGGED, date(2026, 4, 3), "who asks for a plug; by when: who says how soon"),
        (wound(), (OUT,), OPEN_PLAN, Act.LEFT_OPEN, date(2026, 4, 3), "who lets it open; by when: who says how soon"),
        (wound(), (OUT, PLUGGED), PLAN, Act.TRIMMED, date(2026, 6, 1), "who says when to trim"),
        (wound(), (PLUGGED,), OPEN_PLAN, Act.TRIMMED, date(2026, 6, 1), "who says when to trim"),
        (wound(), (OUT, PLUGGED, TRIMMED), PLAN, Act.LOOKED_AT, date(2026, 9, 1), "who says when to look"),
        (wound(), (OUT, OPEN), PLAN, Act.LOOKED_AT, date(2026, 9, 1), "who says when to look"),
        (SLIT, (), PLAN, Act.TAKEN_OUT, date(2026, 4, 3), "who limits the tube"),
        (
            SLIT,
            (OUT,),
            PLAN,
            Act.LEFT_OPEN,
            date(2026, 4, 3),
            "common practice, no source; by when: who says how soon",
        ),
        (SLIT, (OUT, OPEN), PLAN, Act.LOOKED_AT, date(2026, 9, 1), "who says when to look"),
    ],
)
def test_each_step_follows_the_one_before(
    hole: TapHole, acts: tuple[Observation, ...], plan: CarePlan, what: Act, due: date, source: str
) -> None:
    for on, overdue in ((date(2026, 6, 20), due < date(2026, 6, 20)), (date(2026, 12, 31), True)):
        need = one(needs(stand(*acts, hole=hole), plan, on))
        assert (need.what, need.due_on, need.overdue) == (what, due, overdue)
        assert (need.hole_key, need.tree_key, need.rule, need.source) == ("h", "1", "a rule", source)
        assert need.why


def test_the_due_day_itself_is_not_overdue() -> None:
    assert not one(needs(stand(), PLAN, date(2026, 4, 3))).overdue
    assert one(needs(stand(), PLAN, date(2026, 4, 4))).overdue
    assert "for 15 days; at most 14" in one(needs(stand(), PLAN, date(2026, 4, 4))).why


def test_a_slit_is_told_that_it_takes_no_plug() -> None:
    assert "a slit takes no plug" in one(needs(stand(OUT, hole=SLIT), PLAN, date(2026, 4, 2))).why


@pytest.mark.parametrize(
    ("kind", "plan", "what"),
    [
        (Wound.HOLE, PLAN, Act.PLUGGED),
        (Wound.HOLE, OPEN_PLAN, Act.LEFT_OPEN),
        (Wound.SLIT, PLAN, Act.LEFT_OPEN),
    ],
)
def test_a_wound_of_an_earlier_season_never_noted_as_closed_is_overdue(kind: Wound, plan: CarePlan, what: Act) -> None:
    # Even on the first day of the next year, however late in the year it was made.
    for made in (MADE, date(2026, 12, 28)):
        need = one(needs(stand(hole=wound(made=made, kind=kind)), plan, date(2027, 1, 1)))
        assert (need.what, need.overdue) == (what, True)
        assert "never noted as closed: look, then record 'plugged', 'left open' or 'taken out'" in need.why
        assert "2026" in need.why


def test_an_old_hole_without_a_plug_may_be_noted_as_left_open() -> None:
    need = one(needs(stand(OUT), PLAN, date(2027, 3, 1)))
    assert (need.what, need.overdue) == (Act.PLUGGED, True)
    assert "record 'left open'" in need.why


def test_a_look_in_autumn_ends_the_care_and_an_earlier_one_does_not() -> None:
    closed = (OUT, PLUGGED, TRIMMED)
    on = date(2026, 12, 1)
    assert needs(stand(*closed, done(Act.LOOKED_AT, date(2026, 9, 1))), PLAN, on) == ()
    early = one(needs(stand(*closed, done(Act.LOOKED_AT, date(2026, 8, 31))), PLAN, on))
    assert (early.what, early.due_on) == (Act.LOOKED_AT, date(2026, 9, 1))
    assert "looked at on 2026-08-31" in early.why


def test_whoever_looked_at_the_whole_tree_looked_at_its_wounds() -> None:
    look = done(Act.LOOKED_AT, date(2026, 10, 1), hole=None)
    assert needs(stand(OPEN, look), PLAN, date(2026, 12, 1)) == ()
    of_another = done(Act.LOOKED_AT, date(2026, 10, 1), hole="other")
    assert one(needs(stand(OPEN, of_another), PLAN, date(2026, 12, 1))).what is Act.LOOKED_AT


def test_what_was_seen_open_is_looked_at_again_next_autumn_and_what_was_seen_closed_never() -> None:
    closed, on = (OUT, PLUGGED, TRIMMED), date(2027, 3, 1)
    for look, due in ((date(2026, 9, 1), date(2027, 9, 1)), (date(2027, 2, 1), date(2027, 9, 1))):
        again = one(needs(stand(*closed, done(Act.SEEN_OPEN, look)), PLAN, on))
        assert (again.what, again.due_on, again.overdue) == (Act.LOOKED_AT, due, False)
        assert f"seen open on {look}" in again.why
    open_then = done(Act.SEEN_OPEN, date(2026, 9, 1))
    for later in (Act.SEEN_CLOSED, Act.LOOKED_AT):
        assert needs(stand(*closed, open_then, done(later, date(2026, 10, 1))), PLAN, on) == ()
    # Seen closed, whatever was not noted before.
    assert needs(stand(done(Act.SEEN_CLOSED, date(2026, 7, 1))), PLAN, on) == ()
    early = one(needs(stand(*closed, done(Act.SEEN_OPEN, date(2026, 6, 20))), PLAN, on))
    assert early.due_on == date(2026, 9, 1)


def test_what_was_seen_open_is_not_asked_to_be_trimmed_for_ever() -> None:
    seen = done(Act.SEEN_OPEN, date(2026, 9, 20))
    assert one(needs(stand(OUT, PLUGGED, seen), PLAN, date(2026, 12, 1))).what is Act.LOOKED_AT


@pytest.mark.parametrize("kind", [Wound.HOLE, Wound.SLIT])
def test_a_set_that_says_nothing_of_plugging_asks_for_no_hole_to_be_left_either_way(kind: Wound) -> None:
    plan, hole = replace(PLAN, plug=None), wound(kind=kind)
    need = one(needs(stand(OUT, hole=hole), plan, date(2026, 4, 20)))
    assert need.what is (Act.LOOKED_AT if kind is Wound.HOLE else Act.LEFT_OPEN)
    never = one(needs(stand(hole=hole), plan, date(2027, 4, 20)))
    assert never.what is (Act.TAKEN_OUT if kind is Wound.HOLE else Act.LEFT_OPEN)
    assert one(needs(stand(PLUGGED, hole=hole), plan, date(2026, 4, 20))).what is Act.TRIMMED


def test_a_look_also_answers_for_a_plug_whose_trimming_was_not_noted() -> None:
    assert needs(stand(PLUGGED, done(Act.LOOKED_AT, date(2027, 3, 1))), PLAN, date(2027, 3, 1)) == ()
    assert "record 'looked at'" not in one(needs(stand(PLUGGED), PLAN, date(2026, 8, 31))).why
    assert "record 'looked at'" in one(needs(stand(PLUGGED), PLAN, date(2026, 9, 1))).why


@pytest.mark.parametrize(
    ("seasons", "closed", "trimmed", "due"),
    [
        (1, date(2026, 4, 2), None, date(2026, 9, 1)),
        (1, date(2026, 9, 1), None, date(2026, 9, 1)),
        (1, date(2026, 9, 2), None, date(2027, 9, 1)),
        (3, date(2026, 4, 2), None, date(2028, 9, 1)),
        (1, date(2029, 4, 2), None, date(2029, 9, 1)),
        # Trimmed after the look was due: the look is due at once, not years ago.
        (1, date(2026, 4, 2), date(2028, 5, 1), date(2028, 5, 1)),
    ],
)
def test_the_first_look_is_in_autumn_after_so_many_growing_seasons(
    seasons: int, closed: date, trimmed: date | None, due: date
) -> None:
    plan = replace(PLAN, look_after_seasons=CareFigure(seasons, "a source"))
    acts = [done(Act.LEFT_OPEN, closed)]
    if trimmed is not None:
        acts = [done(Act.PLUGGED, closed), done(Act.TRIMMED, trimmed)]
    assert one(needs(stand(*acts), plan, date(2030, 1, 1))).due_on == due


@pytest.mark.parametrize("standing", [Standing.FELLED, Standing.DEAD, Standing.MERGED])
def test_nothing_is_due_at_a_tree_that_is_gone(standing: Standing) -> None:
    assert needs(stand(trees=(tree(standing=standing),)), PLAN, date(2026, 5, 1)) == ()
    assert needs(stand(trees=(tree(standing=standing, since=date(2026, 5, 1)),)), PLAN, date(2026, 5, 1)) == ()


def test_on_a_day_before_it_was_felled_a_tree_stood() -> None:
    felled = tree(standing=Standing.FELLED, since=date(2026, 5, 2))
    assert one(needs(stand(trees=(felled,)), PLAN, date(2026, 5, 1))).what is Act.TAKEN_OUT


def test_needs_come_by_due_date_then_in_the_order_of_the_trees() -> None:
    trees = (tree("3"), tree("1"), tree("2"))
    holes = (
        wound("a", "1"),
        wound("b", "2", made=MADE - timedelta(days=1)),
        wound("c", "3"),
        wound("d", "1", number=2),
    )
    found = needs(Stand(trees=trees, holes=holes), PLAN, date(2026, 3, 28))
    assert [n.hole_key for n in found] == ["b", "c", "a", "d"]


days = st.dates(date(2022, 1, 1), date(2026, 12, 31))
plans = st.builds(
    CarePlan,
    rule=st.just("a rule"),
    plug=st.builds(CareFigure, st.integers(0, 1), st.just("p")),
    tube_most_days=st.builds(CareFigure, st.integers(1, 60), st.just("t")),
    plug_within_days=st.builds(CareFigure, st.integers(0, 30), st.just("w")),
    trim_after_days=st.builds(CareFigure, st.integers(1, 365), st.just("m")),
    look_after_seasons=st.builds(CareFigure, st.integers(1, 5), st.just("l")),
)
care_acts = st.sampled_from([Act.TAKEN_OUT, Act.PLUGGED, Act.LEFT_OPEN, Act.TRIMMED, Act.LOOKED_AT])


@st.composite
def stands(draw: st.DrawFn) -> Stand:
    trees = tuple(
        tree(str(i), draw(st.sampled_from(Standing)), draw(st.none() | days)) for i in range(draw(st.integers(1, 4)))
    )
    holes, acts = [], []
    for t in trees:
        for i in range(draw(st.integers(0, 3))):
            hole = wound(f"{t.key}-{i}", t.key, draw(days), draw(st.sampled_from(Wound)), i + 1)
            holes.append(hole)
            for what, after in draw(st.lists(st.tuples(care_acts, st.integers(0, 900)), max_size=5)):
                whole_tree = what is Act.LOOKED_AT and draw(st.booleans())
                on = hole.made_on + timedelta(days=after)
                acts.append(done(what, on, hole=None if whole_tree else hole.key, tree_key=t.key))
    return Stand(trees=trees, holes=tuple(holes), observations=tuple(acts))


def standing_on(a_stand: Stand, on: date) -> set[str]:
    gone = {t.key for t in a_stand.trees if t.standing is Standing.MERGED}
    gone |= {
        t.key
        for t in a_stand.trees
        if t.standing is not Standing.STANDING and (t.standing_since is None or t.standing_since <= on)
    }
    return {t.key for t in a_stand.trees} - gone


@given(stands(), plans, days)
def test_every_open_wound_has_exactly_one_next_need(a_stand: Stand, plan: CarePlan, on: date) -> None:
    found = needs(a_stand, plan, on)
    keys = [n.hole_key for n in found]
    assert len(keys) == len(set(keys))
    closed = {o.hole_key for o in a_stand.observations if o.what in CLOSING and o.observed_on <= on}
    standing = standing_on(a_stand, on)
    there = {h.key for h in a_stand.holes if h.made_on <= on and h.tree_key in standing}
    assert there - closed <= set(keys) <= there
    assert [n.due_on for n in found] == sorted(n.due_on for n in found)
    of = {h.key: h for h in a_stand.holes}
    for need in found:
        hole = of[need.hole_key]
        assert need.due_on >= hole.made_on
        assert need.overdue == (need.due_on < on)
        assert need.why
        assert need.source
        if hole.key not in closed:
            assert need.what in CLOSING
            assert need.overdue or hole.season == on.year
        if hole.kind is Wound.SLIT:
            assert need.what is not Act.PLUGGED


@given(stands(), plans, days)
def test_what_happens_later_is_not_known_yet(a_stand: Stand, plan: CarePlan, on: date) -> None:
    by_then = replace(
        a_stand,
        holes=tuple(h for h in a_stand.holes if h.made_on <= on),
        observations=tuple(o for o in a_stand.observations if o.observed_on <= on),
    )
    assert needs(a_stand, plan, on) == needs(by_then, plan, on)


@given(stands(), plans, days)
def test_doing_what_is_asked_moves_a_wound_on_until_nothing_is_due(a_stand: Stand, plan: CarePlan, on: date) -> None:
    for need in needs(a_stand, plan, on):
        current, day, asked = a_stand, on, [need.what]
        step: Need | None = need
        while step is not None:
            day = max(day, step.due_on)
            current = replace(
                current, observations=(*current.observations, done(step.what, day, step.hole_key, step.tree_key))
            )
            step = next((n for n in needs(current, plan, day) if n.hole_key == need.hole_key), None)
            if standing_on(current, day) != standing_on(a_stand, on):
                break  # a tree fell while its wounds were being looked after
            if step is not None:
                assert step.what not in asked
                asked.append(step.what)
        assert len(asked) <= 4


def test_a_wound_ends_with_its_last_entry_or_with_its_tree_and_is_remembered_for_a_year() -> None:
    looked = done(Act.SEEN_CLOSED, date(2026, 9, 20))
    assert ended(stand(OUT, PLUGGED, TRIMMED), PLAN, date(2026, 9, 20)) == ()
    over = stand(OUT, PLUGGED, TRIMMED, looked)
    assert ended(over, PLAN, date(2026, 9, 19)) == ()
    assert ended(over, PLAN, date(2027, 9, 20)) == ((wound(), date(2026, 9, 20)),)
    assert ended(over, PLAN, date(2027, 9, 22)) == ()
    felled = stand(OUT, trees=(tree(standing=Standing.FELLED, since=date(2026, 5, 1)),))
    assert ended(felled, PLAN, date(2026, 4, 30)) == ()
    assert ended(felled, PLAN, date(2026, 5, 1)) == ((wound(), date(2026, 5, 1)),)
