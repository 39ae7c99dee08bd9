"""A planned walk on paper: everything that is needed is there, true to scale, in any language and with any name."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from standmap.errors import UserError
from standmap.formats.paper_type import as_read
from standmap.formats.walk_sheet_map import STOP_MM
from standmap.formats.walk_sheet_view import SCALES
from standmap.jobs.language import Language, said_in
from standmap.jobs.planned_round import Purpose, Todo
from standmap.jobs.walk_paper import PaperOptions, paper_options, walk_paper
from standmap.settings import Settings
from standmap.survey.frame import WorkingFrame
from standmap.survey.north import declination
from standmap.units_shown import System, UnitsShown
from tests.formats.pdf_reading import discs, pages, shapes, sizes_mm, text
from tests.jobs.planned_walks import DAY, plain, planned_of, stand_of

NAMES = [f"B{k:02d}" for k in range(1, 17)]


@pytest.mark.parametrize(("paper", "size"), [("A4", (210.0, 297.0)), ("letter", (215.9, 279.4))])
@pytest.mark.parametrize("purpose", Purpose)
def test_a_sheet_tells_all_that_a_walk_needs(paper: str, size: tuple[float, float], purpose: Purpose) -> None:
    stand = stand_of(NAMES)
    content = walk_paper(planned_of(stand, purpose=purpose), stand, "alder wood", PaperOptions(paper=paper))
    assert set(sizes_mm(content)) == {size}
    told = text(content)
    for name in NAMES:
        assert name in told
    first = pages(content)[0]
    for wanted in (
        f"alder wood: {purpose}", "2026-03-28", "05:45", "08:30", "house by the mill", "112",
        "where help is met: lower gate, 61.900000 N, 27.600000 E",
        "first light 05:12", "sunrise 05:50", "lamp needed until 05:50", "1:",
        "magnetic north 12.1° east of true", "at most 15 kg in the hands", "tank", "plank bridge", "leaning spruce",
        "16 stops, 2 trips",
    ):  # fmt: skip
        assert wanted in " ".join(first.split()), wanted
    wanted_of = {
        Purpose.COLLECTING: (
            "measured, L",
            "2.5 L",
            "full at 13:45",
            "full tomorrow 05:45",
            "at each stop – pour into the can (common",
            "3.6 kg",
            "90 cm up",
            "south (170°)",
            "poured out there",
        ),
        Purpose.TAPPING: (
            "height, cm",
            "side, °",
            "depth, mm",
            "bit, mm",
            "may I drill this one? B05 is fit",
            "the cautious set",
            "at each stop, once its own row is ticked – set the tube (common practice, no source)",
        ),
        Purpose.CLOSING: ("tube out", "plugged", "left open", "plug with a peg of 10 mm", "90 cm up"),
    }
    for wanted in (
        *wanted_of[purpose], "20 m", "3 m uphill", "045° true", "check the tag", "at most 21.8 kg carried",
        "16 × vessels of 4.5 L (2 hang already)", "pencil", "B99: the stream cuts it off",
        "own records of three nights", "back to tank: 90 m", "sets out 06:10, tank",
    ):  # fmt: skip
        assert wanted in told, wanted


def test_what_is_the_same_at_every_stop_is_said_once() -> None:
    stand = stand_of(NAMES)
    told = text(walk_paper(planned_of(stand, purpose=Purpose.CLOSING), stand, "wood"))
    assert told.count("plug with a peg of 10 mm") == 1
    assert "to do" not in told
    planned = planned_of(stand, purpose=Purpose.TAPPING)
    told = text(walk_paper(planned, stand, "wood"))
    assert told.count("set the tube") == 1
    assert told.count("is fit") == len(NAMES)
    assert told.count("the cautious set") == 1
    # A walk with one stop has all of it in the row.
    alone = replace(planned, trips=(replace(planned.trips[0], stops=planned.trips[0].stops[:1]),))
    told = text(walk_paper(alone, stand, "wood"))
    assert "at each stop" not in told
    assert "set the tube" in told


def test_who_walks_is_named_where_it_is_known() -> None:
    stand = stand_of(NAMES)
    planned = planned_of(stand, collectors=2)
    assert text(walk_paper(planned, stand, "wood")).count("who walks __") == 2
    named = replace(planned, trips=tuple(replace(t, who=f"walker {t.collector}") for t in planned.trips))
    told = text(walk_paper(named, stand, "wood"))
    assert "who walks walker 1" in told
    assert "who walks walker 2" in told


def test_every_page_is_numbered_and_says_whose_it_is() -> None:
    stand = stand_of([f"B{k}" for k in range(1, 201)])
    found = pages(walk_paper(planned_of(stand, collectors=8), stand, "alder wood"))
    assert len(found) > 16
    for number, page in enumerate(found, start=1):
        assert f"page {number} of {len(found)}" in page
        assert "alder wood · collecting · 2026-03-28 · collector" in page
    told = " ".join(" ".join(found).split())
    for who in range(1, 9):
        assert f"alder wood: collecting, collector {who} of 8" in told
    # The heading of the table comes again on every page of it.
    assert sum("measured, L" in page for page in found) >= 8


def test_a_long_table_goes_on_with_its_heading_on_every_page() -> None:
    stand = stand_of([f"B{k}" for k in range(1, 201)])
    found = pages(walk_paper(planned_of(stand, per_trip=200), stand, "alder wood"))
    tables = [page for page in found if "B150" in page or "measured, L" in page]
    assert len(tables) >= 6
    assert all("measured, L" in page for page in tables)
    told = " ".join(found).split()
    assert [f"B{k}" for k in range(1, 201) if f"B{k}" not in told] == []


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize("step_m", [4.0, 20.0, 90.0])
def test_marks_of_stops_are_true_to_the_scale_that_is_printed(paper: str, step_m: float) -> None:
    stand = stand_of(NAMES, step_m=step_m)
    content = walk_paper(planned_of(stand), stand, "wood", PaperOptions(paper=paper))
    scale = int(pages(content)[0].split("1:")[1].split()[0])
    assert scale in SCALES
    marks = discs(content, STOP_MM)
    # One more disc of this size shows in the legend what it means.
    lowest = marks[:, 1].argmin()
    marks = np.delete(marks, lowest, axis=0)
    assert len(marks) == len(NAMES)
    frame = WorkingFrame(27.6, 61.9)
    lon, lat = np.array([t.at for t in stand.trees]).T
    metres = np.column_stack(frame.to_xy(lon, lat))
    expected = (metres - metres[0]) * 1000 / scale
    drawn = marks - marks[_first(marks, expected)]
    assert _sorted(drawn) == pytest.approx(_sorted(expected), abs=0.02)
    larger = max((s for s in SCALES if s < scale), default=None)
    assert larger is None or np.ptp(expected, axis=0).max() * scale / larger > 100


def _first(marks: np.ndarray, expected: np.ndarray) -> int:
    """Return which mark is that of the first tree: the trees' box has it in its lower left corner."""
    assert (expected >= -0.02).all()
    return int((marks.sum(axis=1)).argmin())


def _sorted(points: np.ndarray) -> np.ndarray:
    return points[np.lexsort(np.round(points.T, 1))]


def test_bearings_are_magnetic_where_wished_and_each_says_so() -> None:
    stand = stand_of(NAMES)
    planned = planned_of(stand)
    turned = declination(*planned.start.at, DAY).to_magnetic_deg(44.6)
    told = text(walk_paper(planned, stand, "wood", PaperOptions(magnetic=True)))
    assert told.count(f"{round(turned):03d}° magnetic") == len(NAMES)
    assert "° true" not in told
    assert told.count("magnetic, bends") == len(NAMES) // 2


def test_a_day_without_a_model_of_north_has_true_bearings_and_says_why() -> None:
    stand = stand_of(NAMES)
    told = text(
        walk_paper(replace(planned_of(stand), day=DAY.replace(year=2035)), stand, "w", PaperOptions(magnetic=True))
    )
    assert "045° true" in told
    assert "bearings are true: magnetic north is not known for 2035-03-28" in told


def test_units_are_those_of_the_person() -> None:
    stand = stand_of(NAMES)
    planned = planned_of(stand, purpose=Purpose.CLOSING)
    told = text(walk_paper(planned, stand, "wood", PaperOptions(units=UnitsShown(System.US))))
    for wanted in ("66 ft", "35 in up", "plug with a peg of 0.39 in", "vessels of 1.19 US gal"):
        assert wanted in told
    told = text(walk_paper(replace(planned, purpose=Purpose.COLLECTING), stand, "wood",
                           PaperOptions(units=UnitsShown(System.US))))  # fmt: skip
    for wanted in ("measured, US gal", "0.66 US gal", "7.9 lb"):
        assert wanted in told


def test_a_sheet_is_german_for_whom_speaks_it() -> None:
    stand = stand_of(NAMES)
    say = said_in(Language("de", ","))
    units = UnitsShown(System.METRIC, ",")
    told = text(walk_paper(planned_of(stand), stand, "Erlenbruch", PaperOptions(units=units, say=say)))
    for wanted in (
        "Erlenbruch: Sammeln", "Aufbruch", "zurück bis", "im Notfall: 112", "gemessen, L", "rechtweisend", "2,5 L",
        "Seite 1 von", "Vorsicht", "mitzunehmen", "12,1° östlich", "erstes Licht 05:12", "zurück zu tank",
    ):  # fmt: skip
        assert wanted in told, wanted
    for english in ("page 1", "bearing", "carried", "emergency", "sunrise", "to take along", "uphill", "stops"):
        assert english not in told, english


def test_settings_say_units_bearings_paper_and_language(monkeypatch: pytest.MonkeyPatch) -> None:
    options = paper_options(Settings(units="imperial", bearings="magnetic", paper="letter", language="de"))
    assert (options.units, options.magnetic) == (UnitsShown(System.IMPERIAL, ","), True)
    assert options.say("page 1 of 2") == "Seite 1 von 2"
    assert options.paper == "letter"
    assert paper_options(Settings(), "A4").paper == "A4"
    for name in ("LC_ALL", "LC_MESSAGES"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("LANG", "de_AT.UTF-8")
    assert paper_options(Settings()).say("page 1 of 2") == "Seite 1 von 2"
    monkeypatch.setenv("LANG", "C.UTF-8")
    assert paper_options(Settings()).say("page 1 of 2") == "page 1 of 2"


def test_a_plan_that_tells_little_leaves_lines_to_write_on() -> None:
    stand = stand_of(NAMES[:1])
    content = walk_paper(plain(planned_of(stand)), stand, "wood")
    told = text(content)
    assert "1 stop, 1 trip" in told
    assert told.count("____") >= 4
    assert "to take along" not in told
    assert "left out" not in told
    assert len(discs(content, STOP_MM)) == 2  # the stop, and the legend's


def test_the_same_plan_gives_the_same_bytes() -> None:
    stand = stand_of(NAMES)
    planned = planned_of(stand)
    assert walk_paper(planned, stand, "wood") == walk_paper(planned, stand, "wood")


def test_nothing_is_in_colour() -> None:
    stand = stand_of(NAMES)
    content = walk_paper(planned_of(stand), stand, "wood")
    import io

    from pypdf import PdfReader
    from pypdf.generic import ContentStream

    reader = PdfReader(io.BytesIO(content))
    for page in reader.pages:
        for operands, operator in ContentStream(page.get_contents(), reader).operations:
            if operator in (b"rg", b"RG"):
                assert len({float(o) for o in operands}) == 1, "a colour"
            assert operator not in (b"k", b"K")


HARD = [
    "<script>alert(1)</script>", "=cmd()|' /C calc'!A0", "birch & <b>bold</b> &amp;", "x" * 300, "%s {tree} \\n",
    "Бе́рёза Ωμέγα", "白樺の木 3", "자작나무", "שלום עולם", "Ærø ß ž ő ğ",
]  # fmt: skip


def test_names_of_any_script_pass_unharmed() -> None:
    stand = stand_of(HARD)
    content = walk_paper(planned_of(stand), stand, "<i>wood</i>")
    told = text(content).replace(" ", "")
    for name in HARD:
        assert name.replace(" ", "") in told or as_read(name).replace(" ", "") in told, name
    assert "<i>wood</i>:collecting" in told
    # What the typeface of the file does not hold has the tree's id beside it, and only that.
    for tree in stand.trees:
        assert (tree.key in told) == (tree.name in ("白樺の木 3", "자작나무")), tree.name


def test_arabic_is_joined_and_read_from_the_right() -> None:
    stand = stand_of(["شجرة"])
    told = text(walk_paper(planned_of(stand), stand, "wood"))
    joined = "\ufeb7\ufea0\ufeae\ufe93"
    assert joined in told or joined[::-1] in told


@settings(max_examples=20, deadline=None)
@given(st.lists(st.text(min_size=1, max_size=130), min_size=1, max_size=4))
def test_no_name_breaks_a_sheet(names: list[str]) -> None:
    stand = stand_of(names)
    planned = replace(planned_of(stand), contact=names[0], left_out=((names[0], names[-1]),))
    content = walk_paper(planned, stand, names[0])
    assert len(pages(content)) >= 2


def test_a_paper_that_is_not_known_is_refused() -> None:
    stand = stand_of(NAMES)
    with pytest.raises(UserError, match="'A3' is no paper known here; choose A4 or Letter"):
        walk_paper(planned_of(stand), stand, "wood", PaperOptions(paper="A3"))


def test_everything_drawn_is_on_the_paper() -> None:
    stand = stand_of([f"B{k}" for k in range(1, 61)])
    content = walk_paper(planned_of(stand), stand, "wood")
    signs = [s.box for s in shapes(content) if s.filled and s.grey == 0]
    assert len(signs) > 60
    assert all(min(box[:2]) > 10 and box[2] < 200 and box[3] < 287 for box in signs)


def test_nothing_that_is_told_at_length_stops_a_sheet() -> None:
    stand = stand_of(NAMES)
    planned = planned_of(stand, purpose=Purpose.TAPPING)
    trip = planned.trips[0]
    wordy = replace(trip.stops[0], todo=tuple(Todo(f"{k} " + "look again " * 30) for k in range(60)))
    planned = replace(
        planned,
        trips=(replace(trip, stops=(wordy, *trip.stops[1:])), *planned.trips[1:]),
        left_out=tuple((f"L{k}", "the stream cuts it off") for k in range(300)),
        cautions=tuple(f"mind {k} " + "this " * 30 for k in range(40)),
        contact="somebody " * 100,
    )
    told = text(walk_paper(planned, stand, "wood"))
    for wanted in ("59 look again", "L299: the stream cuts it off", "mind 39 this", *NAMES):
        assert wanted in told
