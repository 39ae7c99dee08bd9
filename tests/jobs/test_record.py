"""Writing down: history is fact, warnings are loud, and a line that cannot be true stops the whole table."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from standmap.errors import NothingToDo, UserError
from standmap.formats.records_csv import write_records_csv
from standmap.jobs.correct import fell
from standmap.jobs.record import RecordReport, record_file
from standmap.stand.ground import Area, AreaKind
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Act, Wound
from standmap.stand.tree import Measurement, Soundness, Tree
from standmap.store.stand_file import StandFile

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
TODAY = date(2026, 3, 28)
HEAD = "tree,hole,date,time,what,litres,height_cm,side_deg,depth_mm,bit_mm,note\n"
TAPPED = "B1,,2026-03-20,,tapped,,,,,,"
RING = ((26.9, 61.9), (27.1, 61.9), (27.1, 62.1), (26.9, 62.1), (26.9, 61.9))


@pytest.fixture
def file(stand_file: StandFile) -> StandFile:
    with stand_file.writing("plant", NOW) as writing:
        for key, name in (("1", "B1"), ("2", "B2")):
            writing.insert(
                Tree(key, name, (27.0 + int(key) / 1000, 62.0), "Betula pendula", soundness=Soundness.SOUND),
                Measurement(f"m{key}", key, date(2025, 9, 1), 900.0, None, "900", "mm"),
            )
    return stand_file


def table(file: StandFile, *rows: str) -> RecordReport:
    path = file.path.with_name(f"returns{len(file.history())}-{abs(hash(rows))}.csv")
    path.write_text(HEAD + "\n".join(rows) + "\n")
    return record_file(file, path, TODAY, NOW)


def refused(file: StandFile, pattern: str, *rows: str) -> None:
    before, steps = file.stand(), len(file.history())
    with pytest.raises(UserError, match=pattern) as caught:
        table(file, *rows)
    assert "\n" not in str(caught.value)
    assert (file.stand(), len(file.history())) == (before, steps)


def test_a_season_of_one_hole(file: StandFile) -> None:
    report = table(
        file,
        "B1,,2026-03-20,17:30,tapped,,90,180,12,10,south side",
        'B1,,2026-03-21,07:10,collected,"2,95",,,,,',
        "B1,,2026-03-22,,taken out,,,,,,",
        "B1,,2026-03-22,,plugged,,,,,,",
        "B1,,2026-03-28,,trimmed,,,,,,",
        "B1,,2026-03-28,,looked at,,,,,,dry",
    )
    assert (report.holes, report.collections, report.acts, report.cautions) == (1, 1, 4, ())
    stand = file.stand()
    (hole,) = stand.holes_of["1"]
    assert (hole.kind, hole.number, hole.height_mm, hole.side_deg) == (Wound.HOLE, 1, 900.0, 180.0)
    assert (hole.depth_mm, hole.bit_mm, hole.note) == (12.0, 10.0, "south side")
    assert hole.made_at is not None
    assert hole.made_at.utcoffset() is not None
    assert stand.collections_of[hole.key][0].volume_ml == 2950.0
    acts = [o.what for o in stand.observations_of["1"]]
    assert acts == [Act.TAKEN_OUT, Act.PLUGGED, Act.TRIMMED, Act.LOOKED_AT]
    assert stand.open_holes("1", date(2026, 3, 21)) == [hole]
    assert stand.open_holes("1", date(2026, 3, 22)) == []


def test_lines_are_taken_in_the_order_of_their_days(file: StandFile) -> None:
    report = table(file, "B1,,2026-03-21,,collected,2,,,,,", "B1,,2026-03-20,,slit,,,,,,")
    assert (report.holes, report.collections) == (1, 1)


@pytest.mark.parametrize(
    ("rows", "why"),
    [
        (["B9,,2026-03-20,,tapped,,,,,,"], "line 2: no tree is called 'B9'"),
        (["B1,,2026-03-20,,collected,2,,,,,"], "line 2: B1 has no open hole on 2026-03-20: record 'tapped' first"),
        (["B1,,2026-03-29,,tapped,,,,,,"], "line 2: 2026-03-29 is after today"),
        (["B1,,2026-03-20,,tapped,,,,,,", "B1,,2026-03-21,,collected,-1,,,,,"], "line 3"),
        (["B1,,2026-03-20,,tapped,,,,,,", "B1,,2026-03-21,,collected,600,,,,,"], "line 3"),
        (["B1,,2026-03-20,,tapped,,,,,,", "B1,,2026-03-21,,collected,,,,,,"], "line 3"),
        (["B1,,2026-03-20,,drilled,,,,,,"], "line 2"),
        (["B1,1,2026-03-20,,tapped,,,,,,", "B1,1,2026-03-21,,tapped,,,,,,"], "B1 has a hole 1 of 2026 already"),
        (["B1,2,2026-03-20,,collected,2,,,,,"], "no open hole 2"),
        (["B1,x,2026-03-20,,tapped,,,,,,"], "'x' is not a hole number"),
        (["B1,,2026-03-20,,tapped,,,,,,", "B1,,2026-03-19,,collected,2,,,,,"], "no open hole on 2026-03-19"),
        (["B1,,2026-03-20,,tapped,,,,,,", "B1,,2026-03-21,,trimmed,,,,,,"], "record 'plugged' first"),
        (["B1,,2026-03-20,12:00,tapped,,,,,,", "B1,,2026-03-20,07:00,collected,2,,,,,"], "tapped later that day"),
        (
            [
                "B1,,2026-03-20,,tapped,,,,,,",
                "B1,,2026-03-22,06:00,plugged,,,,,,",
                "B1,,2026-03-22,07:00,collected,2,,,,,",
            ],
            "line 4: B1 was collected at 07:00:00 but its tube was out before",
        ),
        (
            [
                "B1,,2026-03-20,,tapped,,,,,,",
                "B1,,2026-03-22,07:00,collected,2,,,,,",
                "B1,,2026-03-22,06:00,plugged,,,,,,",
            ],
            "line 4: B1 was plugged at 06:00:00 but collected later",
        ),
        (["B1,,1026-03-20,,tapped,,,,,,"], "1026-03-20 is before 1900"),
        (
            ["B1,,2026-03-10,,tapped,,,,,,", "B1,,2026-03-16,,trimmed,,,,,,", "B1,,2026-03-21,,plugged,,,,,,"],
            "line 3: .* record 'plugged' first",
        ),
        (
            ["B1,,2026-03-10,,tapped,,,,,,", "B1,,2026-03-15,,taken out,,,,,,", "B1,,2026-03-16,,collected,2,,,,,"],
            "line 4: B1 has no open hole on 2026-03-16: the last one was taken out on 2026-03-15",
        ),
        (
            ["B1,,2026-03-10,,tapped,,,,,,", "B1,,2026-03-15,,taken out,,,,,,", "B1,,2026-03-16,,taken out,,,,,,"],
            "line 4: B1 has no hole with its tube in",
        ),
    ],
)
def test_what_cannot_be_true_is_refused_by_line(file: StandFile, rows: list[str], why: str) -> None:
    refused(file, why, *rows)


def test_all_refusals_are_counted(file: StandFile) -> None:
    refused(file, r"line 2: .* \(and 1 more at fault\)", "B8,,2026-03-20,,tapped,,,,,,", "B9,,2026-03-20,,tapped,,,,,,")


def test_a_hole_is_named_only_when_two_are_open(file: StandFile) -> None:
    table(file, "B1,,2026-03-20,,tapped,,,,,,", "B1,,2026-03-20,,tapped,,,,,,")
    refused(file, r"2 such holes .* say which in 'hole' \(1, 2\)", "B1,,2026-03-21,,collected,2,,,,,")
    table(file, "B1,2,2026-03-21,,collected,2,,,,,", "B1,1,2026-03-21,,taken out,,,,,,")
    table(file, "B1,,2026-03-22,,collected,1.5,,,,,")
    stand = file.stand()
    second = next(h for h in stand.holes_of["1"] if h.number == 2)
    assert [c.volume_ml for c in stand.collections_of[second.key]] == [2000.0, 1500.0]


def test_the_last_sap_may_be_collected_on_the_day_the_tube_comes_out(file: StandFile) -> None:
    table(file, "B1,,2026-03-20,,tapped,,,,,,", "B1,,2026-03-22,,taken out,,,,,,", "B1,,2026-03-22,,collected,1,,,,,")
    refused(file, "no open hole on 2026-03-23", "B1,,2026-03-23,,collected,1,,,,,")


def test_the_same_file_is_recorded_once(file: StandFile) -> None:
    table(file, "B1,,2026-03-20,,tapped,,,,,,")
    path = file.path.with_name("again.csv")
    path.write_text(HEAD + "B2,,2026-03-20,,tapped,,,,,,\n")
    record_file(file, path, TODAY, NOW)
    assert record_file(file, path, TODAY, NOW).known
    assert len(file.stand().holes) == 2


def test_a_tap_on_a_resting_tree_is_accepted_with_a_warning(file: StandFile) -> None:
    table(file, "B1,,2024-03-20,,tapped,,,,,,")
    report = table(file, "B1,,2026-03-20,,tapped,,,,,,")
    assert report.holes == 1
    assert len(report.cautions) == 1
    assert report.cautions[0].startswith("B1 was not ready in 2026: resting (")
    assert "2028" in report.cautions[0]


def test_rest_is_the_rootstocks(file: StandFile) -> None:
    stand = file.stand()
    with file.writing("one root", NOW) as writing:
        for tree in stand.trees:
            writing.change(tree, rootstock="r")
    report = table(file, "B1,,2026-03-20,,tapped,,,,,,", "B2,,2026-03-20,,tapped,,,,,,")
    assert len(report.cautions) == 1
    assert report.cautions[0].startswith("B2 was not ready in 2026: resting")


def test_more_holes_than_allowed_and_too_deep_ones_are_told(file: StandFile) -> None:
    report = table(file, "B1,,2026-03-20,,tapped,,,,14,10,", "B1,,2026-03-20,,tapped,,,,30,12,")
    assert report.cautions == (
        "B1 had 1 of the holes of 2026 already, 1 allowed (cautious set)",
        "B1: a hole 30 mm deep in the wood is more than 15 mm (cautious set)",
        "B1: a hole 12 mm wide is more than 10 mm (cautious set)",
    )


def test_the_owners_days_and_limit_are_told(file: StandFile) -> None:
    with file.writing("permission", NOW) as writing:
        days = (date(2026, 3, 15), date(2026, 4, 30))
        writing.insert(Area("a", "east", AreaKind.PERMITTED, (RING,), "the board", *days, most_trees=1))
    early = table(file, "B1,,2026-03-10,,tapped,,,,,,")
    assert early.cautions == ("B1: no permission holds on 2026-03-10",)
    over = table(file, "B2,,2026-03-20,,tapped,,,,,,")
    assert over.cautions == ("east: 2 trees tapped in 2026, the limit of the board is 1",)


def test_a_tube_found_late_is_taken_out_in_a_later_season(file: StandFile) -> None:
    table(file, "B1,,2025-03-20,,tapped,,,,,,")
    table(file, "B1,,2026-01-05,,taken out,,,,,,")
    assert [o.what for o in file.stand().observations_of["1"]] == [Act.TAKEN_OUT]


def test_a_collection_told_twice_is_asked_about(file: StandFile) -> None:
    table(file, "B1,,2026-03-20,,tapped,,,,,,", "B1,,2026-03-21,,collected,2,,,,,")
    report = table(file, "B1,1,2026-03-21,,collected,2,,,,,twice")
    assert report.cautions == ("B1: 2 L on 2026-03-21 is written down already: twice?",)


def test_a_tap_in_a_felled_tree_is_taken_with_a_warning(file: StandFile) -> None:
    fell(file, "B1", date(2025, 11, 1), NOW)
    report = table(file, "B1,,2026-03-20,,tapped,,,,,,")
    assert report.cautions[0].startswith("B1 was not ready in 2026: unfit (")


def test_more_than_a_vessel_holds_is_asked_about(file: StandFile) -> None:
    report = table(file, "B1,,2026-03-20,,tapped,,,,,,", "B1,,2026-03-21,,collected,9,,,,,")
    assert report.cautions == ("B1: 9 L is more than one vessel of 4.5 L: several, or a slip?",)


def test_of_several_closing_acts_the_first_ends_the_flow(file: StandFile) -> None:
    table(file, TAPPED, "B1,,2026-03-22,06:00,taken out,,,,,,", "B1,,2026-03-24,10:00,plugged,,,,,,")
    refused(file, "its tube was out before", "B1,,2026-03-22,07:00,collected,2,,,,,")
    table(file, "B1,,2026-03-22,05:30,collected,2,,,,,")


def test_a_table_without_lines_is_nothing_to_do(file: StandFile) -> None:
    path = file.path.with_name("empty.csv")
    path.write_text(HEAD)
    with pytest.raises(NothingToDo, match=r"empty\.csv: the table has no lines"):
        record_file(file, path, TODAY, NOW)


def test_a_missing_table_is_told(file: StandFile) -> None:
    with pytest.raises(UserError, match=r"none\.csv: cannot be read"):
        record_file(file, Path("none.csv"), TODAY, NOW)


def test_a_vessel_that_had_run_over_is_written_down(file: StandFile) -> None:
    path = file.path.with_name("returns.csv")
    path.write_text(
        "tree,date,what,litres,overflowed\nB1,2026-03-20,tapped,,\nB1,2026-03-21,collected,4.5,Yes\nB1,2026-03-22,collected,2,\n"
    )
    record_file(file, path, TODAY, NOW)
    assert [(c.volume_ml, c.overflowed) for c in file.stand().collections] == [(4500, True), (2000, False)]
    path.write_text("tree,date,what,litres,overflowed\nB1,2026-03-23,collected,4.5,perhaps\n")
    with pytest.raises(UserError, match=r"line 2: overflowed 'perhaps' is neither yes nor no"):
        record_file(file, path, TODAY, NOW)
    path.write_text("tree,date,what,litres,overflowed\nB1,2026-03-23,plugged,,yes\n")
    with pytest.raises(UserError, match="overflowed goes with 'collected', not with 'plugged'"):
        record_file(file, path, TODAY, NOW)


def test_which_wound_was_seen_is_not_guessed_and_comes_through_a_table(file: StandFile, tmp_path: Path) -> None:
    table(file, "B1,,2022-03-20,,tapped,,,,,,", TAPPED, "B1,,2026-03-22,,left open,,,,,,")
    refused(
        file,
        r"B1 has 2 such holes on 2026-03-24: say which in 'hole' \(1 of 2022, 1 of 2026\)",
        "B1,,2026-03-24,,seen open,,,,,,",
    )
    refused(file, "has 2 such holes", "B1,1,2026-03-24,,seen closed,,,,,,")
    refused(file, "has no hole 1 on", "B1,1 of 2023,2026-03-24,,seen closed,,,,,,")
    refused(file, "is not a hole number", "B1,1 of last year,2026-03-24,,seen closed,,,,,,")
    table(file, "B1,1 of 2022,2026-03-24,,Seen open,,,,,,dry", "B1,1 of 2026,2026-03-25,,seen closed,,,,,,")
    # The other one is all that is left to be seen.
    table(file, "B1,,2026-03-26,,seen open,,,,,,")
    wanted = seen_in(file.stand())
    assert wanted == [(2022, "seen open"), (2026, "seen closed"), (2022, "seen open")]

    with StandFile.create(tmp_path / "again.gpkg") as again:
        with again.writing("trees", NOW) as writing:
            writing.insert_many(file.stand().trees)
        path = tmp_path / "again.csv"
        path.write_bytes(write_records_csv(file.stand()))
        record_file(again, path, date(2026, 3, 28), NOW)
        assert seen_in(again.stand()) == wanted


def seen_in(stand: Stand) -> list[tuple[int, str]]:
    made = {hole.key: hole.season for hole in stand.holes}
    looks = [o for o in stand.observations if o.what in (Act.SEEN_OPEN, Act.SEEN_CLOSED)]
    return [(made[o.hole_key or ""], str(o.what)) for o in sorted(looks, key=lambda o: o.observed_on)]
