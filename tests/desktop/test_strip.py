"""The year strip: a cell a season, told in words too, chosen by mouse and keyboard."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PySide6.QtCore import QPoint, QPointF, QRect, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from standmap.desktop.desk import Desk
from standmap.desktop.strip.bar import LEAST_PX, ORDER, stretches
from standmap.desktop.strip.year_strip import YearStrip
from standmap.jobs.judge import judge
from standmap.jobs.rule_choice import keep_rules
from standmap.rules.judgement import Verdict
from standmap.settings import Settings
from standmap.stand.tapping import TapHole, Wound
from standmap.stand.tree import Measurement, Tree
from standmap.store.stand_file import StandFile

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)


def plant(path: Path, *tapped: int, trees: int = 4) -> None:
    """Make a stand whose first tree was tapped in these years; the last tree was never measured."""
    with StandFile.create(path) as file, file.writing("plant", NOW) as writing:
        writing.insert_many([Tree(f"k{i}", f"B{i}", (27 + i / 1000, 62.0), "Betula pendula") for i in range(trees)])
        writing.insert_many(
            [Measurement(f"m{i}", f"k{i}", date(2024, 9, 14), 842.0, None, "", "mm") for i in range(max(trees - 1, 0))]
        )
        if trees:
            writing.insert_many([TapHole(f"h{y}", "k0", 1, Wound.HOLE, date(y, 3, 20)) for y in tapped])


@pytest.fixture
def desk(today: date, qapp: QApplication) -> Iterator[Desk]:
    assert today.year == 2026
    assert qapp is not None
    desk = Desk(Settings())
    yield desk
    desk.close_stand()
    desk.deleteLater()


def shown(qtbot: QtBot, desk: Desk, path: Path, width: int = 1280) -> YearStrip:
    strip = YearStrip(desk)
    qtbot.addWidget(strip)
    strip.resize(width, 72)
    strip.show()
    with qtbot.waitSignal(desk.seen_changed):
        desk.open_stand(path)
    qtbot.waitUntil(lambda: not strip.counted.counting)
    return strip


def cell(strip: YearStrip, season: int) -> QRect:
    row = strip.cells.seasons.row_of(season)
    assert row is not None
    return strip.cells.visualRect(strip.cells.seasons.index(row))


def click(strip: YearStrip, season: int) -> None:
    QTest.mouseClick(strip.cells.viewport(), Qt.MouseButton.LeftButton, pos=cell(strip, season).center())


def test_every_season_has_a_cell_that_says_its_counts(qtbot: QtBot, desk: Desk, stand_path: Path) -> None:
    plant(stand_path, 2021, 2025)
    strip = shown(qtbot, desk, stand_path)
    assert strip.cells.isVisible()
    assert [s.season for s in strip.counted.seasons] == list(range(2021, 2037))
    assert desk.seen is not None
    for counted in strip.counted.seasons:
        assert counted.counts == judge(desk.seen.stand, counted.season).counts
    index = strip.cells.seasons.index(5)
    aloud = index.data(Qt.ItemDataRole.AccessibleTextRole)
    assert aloud == "season 2026, this season: unsure 1, resting 1, ready 2"
    ahead = strip.cells.seasons.index(6).data(Qt.ItemDataRole.ToolTipRole)
    assert "to come" in ahead
    assert "as if no more trees were tapped" in ahead


def test_a_click_colours_the_map_for_that_season(qtbot: QtBot, desk: Desk, stand_path: Path) -> None:
    plant(stand_path, 2021, 2025)
    strip = shown(qtbot, desk, stand_path)
    with qtbot.waitSignal(desk.season_changed):
        click(strip, 2029)
    assert desk.season == 2029
    assert desk.seen is not None
    judged = [j.verdict for _, j in judge(desk.seen.stand, 2029).trees]
    assert [list(Verdict)[code] for code in desk.codes] == judged


def test_keys_go_through_the_seasons(qtbot: QtBot, desk: Desk, stand_path: Path) -> None:
    plant(stand_path, 2021)
    strip = shown(qtbot, desk, stand_path)
    strip.cells.setFocus()
    seen = []
    for key in (Qt.Key.Key_Right, Qt.Key.Key_Right, Qt.Key.Key_Left, Qt.Key.Key_Home, Qt.Key.Key_End, Qt.Key.Key_Right):
        QTest.keyClick(strip.cells, key)
        seen.append(desk.season)
    assert seen == [2027, 2028, 2027, 2026, 2036, 2036]


def test_a_season_set_elsewhere_is_chosen_and_brought_into_sight(qtbot: QtBot, desk: Desk, stand_path: Path) -> None:
    plant(stand_path, 1990)
    strip = shown(qtbot, desk, stand_path, width=800)
    assert cell(strip, 2026).intersects(strip.cells.viewport().rect())
    assert not cell(strip, 1990).intersects(strip.cells.viewport().rect())
    desk.set_season(1991)
    assert strip.cells.viewport().rect().contains(cell(strip, 1991).center())
    assert strip.cells.currentIndex().data() == "1991"
    desk.set_season(2050)
    assert not strip.cells.currentIndex().isValid()


def test_the_wheel_scrolls_along_and_leaves_the_season(qtbot: QtBot, desk: Desk, stand_path: Path) -> None:
    plant(stand_path, 1990)
    strip = shown(qtbot, desk, stand_path, width=800)
    before = cell(strip, 2026).left()
    middle = QPointF(400, 36)
    turned = QWheelEvent(
        middle,
        strip.cells.viewport().mapToGlobal(middle),
        QPoint(),
        QPoint(0, 240),
        Qt.MouseButton.NoButton,
        Qt.KeyboardModifier.NoModifier,
        Qt.ScrollPhase.NoScrollPhase,
        False,
    )
    QApplication.sendEvent(strip.cells.viewport(), turned)
    assert cell(strip, 2026).left() > before
    assert desk.season == 2026


def test_cells_share_the_width_when_they_fit(qtbot: QtBot, desk: Desk, stand_path: Path) -> None:
    plant(stand_path, 2021)
    strip = shown(qtbot, desk, stand_path, width=1280)
    assert cell(strip, 2021).left() >= 0
    assert 1280 - 20 <= cell(strip, 2036).right() <= 1280


@pytest.mark.parametrize("percent", [100, 200])
def test_the_strip_grows_with_the_text(qtbot: QtBot, today: date, stand_path: Path, percent: int) -> None:
    assert today.year == 2026
    plant(stand_path, 2021)
    desk = Desk(Settings(text_size_percent=percent))
    strip = shown(qtbot, desk, stand_path)
    assert strip.height() == 72 * percent // 100
    assert cell(strip, 2026).width() >= 76 * percent // 100
    desk.close_stand()
    desk.deleteLater()


def test_other_rules_are_counted_anew(qtbot: QtBot, desk: Desk, stand_path: Path) -> None:
    plant(stand_path, 2025)
    strip = shown(qtbot, desk, stand_path)
    resting = [s.season for s in strip.counted.seasons if s.counts["resting"]]
    assert resting == [2026, 2027, 2028]
    desk.run(lambda file, _: keep_rules(file, NOW, "cautious", {"return_after_years": 6}), "rules")
    qtbot.waitUntil(lambda: [s.season for s in strip.counted.seasons if s.counts["resting"]] == list(range(2026, 2031)))


def test_what_holds_is_not_counted_again(
    qtbot: QtBot, desk: Desk, stand_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plant(stand_path, 2025)
    strip = shown(qtbot, desk, stand_path)
    before = strip.counted.seasons
    with qtbot.waitSignal(desk.seen_changed):
        desk.run(lambda file, _: _note(file), "a note")
    qtbot.waitUntil(lambda: not strip.counted.counting)
    assert strip.counted.seasons is before
    monkeypatch.setenv("STANDMAP_TODAY", "2027-01-02")
    desk.seen_changed.emit()
    qtbot.waitUntil(lambda: not strip.counted.counting)
    assert strip.counted.seasons[-1].season == 2037


def _note(file: StandFile) -> None:
    with file.writing("a note", NOW) as writing:
        writing.set_setting("note", "x")


def test_an_empty_stand_says_that_there_are_no_records(qtbot: QtBot, desk: Desk, stand_path: Path) -> None:
    plant(stand_path, trees=0)
    strip = shown(qtbot, desk, stand_path)
    assert strip.words.isVisible()
    assert strip.words.text() == "no records yet"
    assert not strip.cells.isVisible()


counts = st.dictionaries(st.sampled_from([str(v) for v in Verdict]), st.integers(0, 100_000))


@given(counts, st.integers(0, 200))
def test_a_bar_is_filled_in_a_fixed_order_and_hides_no_verdict(counted: dict[str, int], width: int) -> None:
    parts = stretches(counted, width)
    present = [v for v in ORDER if counted.get(str(v), 0)]
    if width < LEAST_PX * len(present) or not present:
        assert parts == ()
        return
    assert [p.verdict for p in parts] == present
    assert all(p.width_px >= LEAST_PX for p in parts)
    assert (parts[0].start_px, parts[-1].start_px + parts[-1].width_px) == (0, width)
    assert all(a.start_px + a.width_px == b.start_px for a, b in itertools.pairwise(parts))


def test_a_bar_shares_its_width_by_count() -> None:
    parts = {str(p.verdict): p.width_px for p in stretches({"ready": 300, "resting": 100}, 84)}
    assert parts == {"ready": 62, "resting": 22}
