"""What the aftercare list shows: counts by kind of work, what is put away, how late it is."""

from __future__ import annotations

from datetime import date

from standmap.desktop.pages.aftercare.due_rows import counts, how_late, listed
from standmap.jobs.aftercare import aftercare
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Act, Observation, TapHole, Wound
from standmap.stand.tree import Tree

WOOD = Stand(
    trees=(Tree("1", "B1", (27.0, 62.0)), Tree("2", "B2", (27.001, 62.0)), Tree("3", "B3", (27.002, 62.0))),
    holes=(
        TapHole("h1", "1", 1, Wound.HOLE, date(2026, 3, 20)),
        TapHole("h2", "2", 1, Wound.HOLE, date(2026, 4, 18)),
        TapHole("h3", "3", 1, Wound.HOLE, date(2026, 3, 20)),
    ),
    observations=(Observation("o", "3", "h3", Act.TAKEN_OUT, date(2026, 4, 20)),),
)
DAY = date(2026, 4, 20)


def test_counts_tell_overdue_due_and_later_apart_in_the_order_of_the_work() -> None:
    care = aftercare(WOOD, DAY, later=True)
    assert [(c.act, c.overdue, c.due, c.later) for c in counts(care)] == [
        (Act.TAKEN_OUT, 1, 0, 1),
        (Act.PLUGGED, 0, 1, 0),
    ]


def test_what_is_put_away_or_due_later_is_not_listed_unless_wanted() -> None:
    care = aftercare(WOOD, DAY, later=True)
    everything = listed(care, (), later=True)
    assert {d.tree.name for d in everything} == {"B1", "B2", "B3"}
    assert {d.tree.name for d in listed(care, {Act.PLUGGED}, later=True)} == {"B1", "B2"}
    assert all(d.need.due_on <= DAY for d in listed(care, (), later=False))


def test_how_late_is_counted_in_days() -> None:
    by_name = {d.tree.name: d for d in aftercare(WOOD, DAY, later=True).due}
    assert how_late(by_name["B1"], DAY) == ("overdue", (DAY - by_name["B1"].need.due_on).days)
    assert how_late(by_name["B2"], DAY) == ("later", (by_name["B2"].need.due_on - DAY).days)
    assert how_late(by_name["B2"], by_name["B2"].need.due_on) == ("today", 0)
