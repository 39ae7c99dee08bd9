"""Batches: what was collected is brought together, split, changed and taken apart again, each as one edit."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from standmap.errors import NothingToDo, UserError
from standmap.jobs.batch_told import BatchTold
from standmap.jobs.batches import (
    BatchAsked,
    BatchChange,
    change_batch,
    list_batches,
    make_batch,
    remove_batch,
    split_batch,
    waiting_collections,
)
from standmap.jobs.returns import Return, Volume, read_litres, store_returns
from standmap.jobs.sap_readings import BrixReading, read_sap_brix, read_sap_volume, read_temperature_c
from standmap.jobs.taking_back import undo
from standmap.sap.keeping import Keeps
from standmap.stand.fates import Fate
from standmap.stand.tapping import Collection, TapHole, Wound
from standmap.stand.tree import Tree
from standmap.store.stand_file import StandFile
from standmap.units_shown import UnitsShown
from tests.jobs.stand_rows import rows

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
DAY, BEFORE = date(2026, 3, 28), date(2026, 3, 27)
METRIC = UnitsShown()


@pytest.fixture
def file(stand_file: StandFile) -> StandFile:
    """Return a stand in which four trees gave 2 L on the 27th, and two of them 3 L on the 28th."""
    with stand_file.writing("plant", NOW) as writing:
        for k in range(4):
            writing.insert(
                Tree(f"t{k}", f"B{k}", (27.0 + k / 1000, 62.0), "Betula pendula"),
                TapHole(f"h{k}", f"t{k}", 1, Wound.HOLE, date(2026, 3, 25)),
                Collection(f"c{k}", f"h{k}", BEFORE, None, 2000.0, "2", "l"),
            )
        for k in range(2):
            writing.insert(Collection(f"d{k}", f"h{k}", DAY, None, 3000.0, "3", "l"))
    return stand_file


def volume(text: str) -> Volume:
    return read_sap_volume(text, METRIC)


def made(file: StandFile, name: str = "Friday", day: date = BEFORE, **more: object) -> BatchTold:
    return make_batch(file, BatchAsked(name, day, **more), DAY, NOW)  # type: ignore[arg-type]


def in_batches(file: StandFile) -> dict[str, str | None]:
    stand = file.stand()
    name = {batch.key: batch.name for batch in stand.batches}
    return {c.key: None if c.batch_key is None else name[c.batch_key] for c in stand.collections}


def test_the_day_is_brought_together_as_one_step(file: StandFile) -> None:
    before, steps = rows(file.path), len(file.history())
    told = made(file, reading=BrixReading(1.4, 12.0), temperature_c=4.0, note="from the spring")
    assert [tree.name for tree in told.trees] == ["B0", "B1", "B2", "B3"]
    assert (told.volume_ml, told.summed_ml, told.oldest, told.age_days) == (8000, 8000, BEFORE, 1)
    # 1.4 read at 12 °C: 0.428 less.
    assert told.batch.sugar_brix == pytest.approx(0.97)
    assert told.batch.note == "refractometer: 1.4 °Bx read at 12 °C\nfrom the spring"
    assert told.kept[0].level is Keeps.GOOD
    assert in_batches(file) == dict.fromkeys(["c0", "c1", "c2", "c3"], "Friday") | {"d0": None, "d1": None}
    assert len(file.history()) == steps + 1
    undo(file, NOW)
    assert rows(file.path) == before


def test_only_some_trees_or_several_days(file: StandFile) -> None:
    told = made(file, "two", trees=("B1", "b3"))
    assert [tree.name for tree in told.trees] == ["B1", "B3"]
    rest = made(file, "rest", DAY, since=BEFORE)
    assert [tree.name for tree in rest.trees] == ["B0", "B1", "B2"]
    assert (rest.volume_ml, rest.oldest) == (10_000, BEFORE)
    assert waiting_collections(file.stand(), DAY, BEFORE) == ()


def test_litres_by_another_measure_are_kept_as_given_and_a_difference_is_told(file: StandFile) -> None:
    told = made(file, volume=volume("2 imp gal"))
    assert told.volume_ml == pytest.approx(9092.18)
    assert told.batch.note == "measured: 2 imp gal"
    assert told.doubts == ()
    again = change_batch(file, "friday", BatchChange(volume=volume("6")), DAY, NOW)
    assert again.batch.note == "measured: 6 L"
    assert again.doubts == ("6.0 L measured, 8.0 L by the returns: 25 % less",)


def test_overflowed_vessels_make_it_at_least_so_much(file: StandFile) -> None:
    first = file.stand().collections[0]
    with file.writing("over", NOW) as writing:
        writing.change(first, overflowed=True)
    assert made(file).at_least
    assert not change_batch(file, "Friday", BatchChange(volume=volume("8")), DAY, NOW).at_least


def test_a_part_keeps_sugar_day_and_trees_and_goes_back(file: StandFile) -> None:
    made(file, reading=BrixReading(0.9), temperature_c=3.0)
    steps = len(file.history())
    part = split_batch(file, "Friday", "for drinking", volume("3"), DAY, NOW)
    assert len(file.history()) == steps + 1
    assert (part.whole, part.volume_ml, part.summed_ml) == ("Friday", 3000, None)
    assert (part.batch.sugar_brix, part.oldest, len(part.trees)) == (0.9, BEFORE, 4)
    whole = list_batches(file, DAY)[0]
    assert (whole.volume_ml, whole.doubts) == (5000, ())
    second = split_batch(file, "for drinking", "for the neighbour", volume("1"), DAY, NOW)
    assert second.whole == "Friday"
    with pytest.raises(UserError, match="remove the parts first"):
        remove_batch(file, "Friday", NOW)
    remove_batch(file, "for the neighbour", NOW)
    remove_batch(file, "for drinking", NOW)
    # A part of a part is a part of the whole.
    assert list_batches(file, DAY)[0].volume_ml == 8000


@pytest.mark.parametrize("litres", ["8", "9"])
def test_nothing_is_split_off_that_is_not_there(file: StandFile, litres: str) -> None:
    made(file)
    with pytest.raises(UserError, match="is not less than what batch 'Friday' holds"):
        split_batch(file, "Friday", "more", volume(litres), DAY, NOW)
    change_batch(file, "Friday", BatchChange(fate=Fate.BOILED), DAY, NOW)
    with pytest.raises(UserError, match="was boiled already"):
        split_batch(file, "Friday", "late", volume("1"), DAY, NOW)


def test_its_fate_ends_its_age_and_can_be_taken_back(file: StandFile) -> None:
    made(file)
    told = change_batch(file, "Friday", BatchChange(fate=Fate.BOILED, fate_on=BEFORE), DAY, NOW)
    assert (told.batch.fate, told.batch.fate_on, told.age_days, told.kept) == ("boiled", BEFORE, 0, ())
    assert file.history()[-1].label == "batch 'Friday': boiled"
    with pytest.raises(NothingToDo):
        change_batch(file, "Friday", BatchChange(fate=Fate.BOILED, fate_on=BEFORE), DAY, NOW)
    again = change_batch(file, "Friday", BatchChange(waits=True), DAY, NOW)
    assert (again.batch.fate, again.batch.fate_on, again.age_days) == ("", None, 1)


def test_age_counts_from_the_oldest_of_it(file: StandFile) -> None:
    told = made(file, "both", DAY, since=BEFORE)
    assert told.kept[0].level is Keeps.LAST_DAY
    assert list_batches(file, date(2026, 3, 30))[0].kept[0].level is Keeps.PAST


def test_a_batch_that_is_removed_lets_its_returns_go(file: StandFile) -> None:
    before = rows(file.path)
    made(file)
    with_it = rows(file.path)
    remove_batch(file, "Friday", NOW)
    assert rows(file.path) == before
    undo(file, NOW)
    assert rows(file.path) == with_it


def test_returns_that_are_put_right_stay_in_their_batch(file: StandFile) -> None:
    made(file)
    store_returns(file, BEFORE, [Return("h0", read_litres("2.5", METRIC))], [], DAY, NOW, in_place=True)
    told = list_batches(file, DAY)[0]
    assert told.summed_ml == 8500
    assert len(told.trees) == 4


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (BatchAsked("x", date(2026, 3, 26)), "nothing was collected by 2026-03-26, the first only on 2026-03-27"),
        (BatchAsked("x", date(2026, 3, 29)), "2026-03-29 is after today"),
        (BatchAsked("x", BEFORE, since=DAY), "cannot go into a batch of 2026-03-27"),
        (BatchAsked("x", DAY, trees=("B3",)), "B3: nothing was collected on 2026-03-28"),
        (BatchAsked("x", DAY, trees=("Z9",)), "no tree is called 'Z9'"),
        (BatchAsked(" ", DAY), "cannot be a name"),
        (BatchAsked("friday", DAY), "another batch is called 'friday'"),
        (BatchAsked("x", BEFORE), "all trees: what was collected by 2026-03-27 is in a batch"),
        (BatchAsked("x", DAY, note="measured: a lot"), "a note cannot begin a line"),
        (BatchAsked("x", DAY, reading=BrixReading(0.5, 10.0)), "would be 0 °Bx"),
    ],
)
def test_what_cannot_be_is_refused_and_nothing_is_stored(file: StandFile, asked: BatchAsked, said: str) -> None:
    made(file)
    before, steps = rows(file.path), len(file.history())
    with pytest.raises(UserError, match=said):
        make_batch(file, asked, DAY, NOW)
    assert rows(file.path) == before
    assert len(file.history()) == steps


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (BatchChange(fate=Fate.DRUNK, fate_on=date(2026, 3, 26)), "was made on 2026-03-27, after 2026-03-26"),
        (BatchChange(fate=Fate.DRUNK, fate_on=date(2026, 3, 29)), "after today"),
        (BatchChange(note="x" * 5000), "a note of 5000 characters"),
    ],
)
def test_a_change_that_cannot_be_is_refused(file: StandFile, change: BatchChange, said: str) -> None:
    made(file)
    before = rows(file.path)
    with pytest.raises(UserError, match=said):
        change_batch(file, "Friday", change, DAY, NOW)
    with pytest.raises(UserError, match="no batch is called"):
        change_batch(file, "Monday", change, DAY, NOW)
    assert rows(file.path) == before


def test_an_empty_stand_has_no_batches(file: StandFile) -> None:
    with pytest.raises(NothingToDo):
        list_batches(file, DAY)


@pytest.mark.parametrize("text", ["70", "0", "-1", "nan", "1e400", "x", "", "11 %"])
def test_sugar_that_is_not_of_sap(text: str) -> None:
    with pytest.raises(UserError):
        read_sap_brix(text)


@pytest.mark.parametrize("text", ["999.9", "-999.9", "nan", "inf", "warm", "120 F"])
def test_temperatures_that_are_not_of_sap(text: str) -> None:
    with pytest.raises(UserError):
        read_temperature_c(text)


@pytest.mark.parametrize("text", ["0", "-4", "nan", "40 gal", "9999", "lots", ""])
def test_volumes_that_are_not_of_sap(text: str) -> None:
    with pytest.raises(UserError):
        volume(text)


def test_readings_as_people_write_them() -> None:
    assert read_sap_brix("1,1 °Bx") == 1.1
    assert read_sap_brix("0.9%") == 0.9
    assert read_temperature_c("41 °F") == 5
    assert read_temperature_c("3.5 °C") == read_temperature_c("3,5") == 3.5


@settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(litres=st.lists(st.floats(0.1, 2.0), max_size=3), fate=st.sampled_from(Fate))
def test_whatever_is_done_can_be_taken_back(
    tmp_path_factory: pytest.TempPathFactory, litres: list[float], fate: Fate
) -> None:
    path = tmp_path_factory.mktemp("batch") / "wood.gpkg"
    with StandFile.create(path) as file:
        with file.writing("plant", NOW) as writing:
            writing.insert(
                Tree("t", "B", (27.0, 62.0), "Betula pendula"),
                TapHole("h", "t", 1, Wound.HOLE, date(2026, 3, 25)),
                Collection("c", "h", BEFORE, None, 7000.0, "7", "l"),
            )
        states: list[dict[str, list[tuple[object, ...]]]] = [rows(path)]
        made(file)
        states.append(rows(path))
        for number, part in enumerate(litres):
            split_batch(file, "Friday", f"part {number}", Volume(part * 1000, f"{part:.3f}", "l"), DAY, NOW)
            states.append(rows(path))
        change_batch(file, "Friday", BatchChange(fate=fate), DAY, NOW)
        total = sum(told.volume_ml for told in list_batches(file, DAY))
        assert total == pytest.approx(7000)
        for state in reversed(states):
            undo(file, NOW)
            assert rows(path) == state
