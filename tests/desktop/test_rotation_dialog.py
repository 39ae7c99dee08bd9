"""The coming seasons in the window: planned, looked at on the map, marked; what binds is said."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QLabel
from pytestqt.qtbot import QtBot

from standmap.cli.main import run
from standmap.desktop.desk import Desk
from standmap.desktop.dialogs.rotation_dialog import RotationDialog
from standmap.desktop.pages.choose.page import ChoosePage
from standmap.desktop.stand_actions import rotation
from standmap.desktop.window import Window
from standmap.jobs.mark import plans_of
from standmap.jobs.rule_choice import keep_rules
from standmap.rules.columns import CODES
from standmap.rules.judgement import Verdict
from standmap.settings import Settings
from standmap.stand.ground import Area, AreaKind
from standmap.store.stand_file import StandFile

PATIENCE_MS = 30_000
TREES = "name,lon,lat,species,girth_mm,date,soundness\n" + "".join(
    f"B{k},{27.6 + k * 0.0001:.4f},61.9,Betula pendula,900,2025-09-01,sound\n" for k in range(8)
)


@pytest.fixture
def window(qtbot: QtBot, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Window]:
    monkeypatch.setenv("STANDMAP_TODAY", "2026-03-28")
    monkeypatch.chdir(tmp_path)
    (tmp_path / "trees.csv").write_text(TREES)
    assert run(["new", "wood.gpkg"]) == 0
    assert run(["bring", "wood.gpkg", "trees.csv"]) == 0
    made = Window(Desk(Settings(motion="less")))
    qtbot.addWidget(made)
    made.show()
    with qtbot.waitSignal(made.desk.stand_opened, timeout=PATIENCE_MS):
        made.desk.open_stand(tmp_path / "wood.gpkg")
    qtbot.waitUntil(lambda: not made.desk.busy, timeout=PATIENCE_MS)
    yield made
    made.desk.close_stand()


@pytest.fixture
def dialog(window: Window) -> RotationDialog:
    rotation(window)
    found = window.findChild(RotationDialog)
    assert isinstance(found, RotationDialog)
    return found


def planned(qtbot: QtBot, dialog: RotationDialog) -> None:
    QTest.mouseClick(dialog.plan_button, Qt.MouseButton.LeftButton)
    assert not dialog.plan_button.isEnabled()
    qtbot.waitUntil(dialog.plan_button.isEnabled, timeout=PATIENCE_MS)


def test_a_plan_is_looked_at_and_its_first_season_marked(qtbot: QtBot, window: Window, dialog: RotationDialog) -> None:
    dialog.years.edit.selectAll()
    QTest.keyClicks(dialog.years.edit, "4")
    planned(qtbot, dialog)
    assert dialog.planned is not None
    leanest = window.desk.units.volume(dialog.planned.leanest_l * 1000)
    assert dialog.told.text() == f"{leanest} or more a season; no better plan exists"
    cells = [dialog.table.item(row, 0) for row in range(dialog.table.rowCount())]
    rows = [cell.text() for cell in cells if cell is not None]
    assert rows == ["2026", "2027", "2028", "2029"]
    dialog.table.setFocus()
    dialog.table.selectRow(1)
    assert window.desk.season == 2027
    assert set(window.desk.chosen) == {tree.key for tree, _ in dialog.planned.seasons[1].trees}
    assert dialog.mark_button.text() == "mark 2 trees for 2026"
    QTest.mouseClick(dialog.mark_button, Qt.MouseButton.LeftButton)
    first = {tree.key for tree, _ in dialog.planned.seasons[0].trees}

    def marked() -> bool:
        seen = window.desk.seen
        return seen is not None and set(plans_of(seen.plans, 2026)) == first

    qtbot.waitUntil(marked, timeout=PATIENCE_MS)


def test_what_cannot_be_had_is_said_with_what_binds(qtbot: QtBot, dialog: RotationDialog) -> None:
    dialog.years.edit.setText("4")
    QTest.keyClicks(dialog.litres.edit, "200 L")
    QTest.keyClick(dialog.litres.edit, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: dialog.planned is not None, timeout=PATIENCE_MS)
    texts = [dialog.more.itemAt(k).widget().text() for k in range(dialog.more.count())]  # type: ignore[union-attr]
    assert "200 L a season cannot be had" in texts
    assert dialog.planned is not None
    rest = next(one for one in dialog.planned.binding if "rest" in one.rule)
    assert rest.leanest_l > dialog.planned.leanest_l
    assert f"without the rest of 4 years: {rest.leanest_l:.0f} L" in texts


@pytest.mark.parametrize(
    ("field", "text", "why"),
    [
        ("years", "99", "99 seasons are out of bounds; choose 1 to 40"),
        ("litres", "-3", "-3 is out of bounds; write more than 0"),
        ("growth", "90", "90 is out of bounds; choose 0 to 40 mm"),
    ],
)
def test_what_cannot_be_asked_is_said_beside_its_field(dialog: RotationDialog, field: str, text: str, why: str) -> None:
    asked = getattr(dialog, field)
    asked.edit.selectAll()
    QTest.keyClicks(asked.edit, text)
    QTest.mouseClick(dialog.plan_button, Qt.MouseButton.LeftButton)
    assert asked.wrong.text() == why
    assert dialog.planned is None
    assert dialog.plan_button.isEnabled()


def test_it_closes_with_the_stand(qtbot: QtBot, window: Window, dialog: RotationDialog) -> None:
    window.desk.close_stand()
    qtbot.waitUntil(lambda: window.findChild(RotationDialog) is None, timeout=PATIENCE_MS)
    del dialog


def test_the_plan_is_drawn_on_the_strip_beside_as_now_until_it_is_put_away(
    qtbot: QtBot, window: Window, dialog: RotationDialog
) -> None:
    desk, strip = window.desk, window.strip

    def counted(season: int) -> dict[str, int]:
        return dict(next(s for s in strip.counted.seasons if s.season == season).counts)

    qtbot.waitUntil(lambda: bool(strip.counted.seasons), timeout=PATIENCE_MS)
    as_now = counted(2028)
    assert not strip.plan.isVisible()
    planned(qtbot, dialog)
    plan = dialog.planned
    assert plan is not None
    dialog.reject()
    qtbot.waitUntil(lambda: bool(strip.counted.as_now), timeout=PATIENCE_MS)
    for season in plan.seasons:
        assert counted(season.season)["giving"] == len(season.trees)
    assert dict(strip.counted.as_now[2028].counts) == as_now
    model = strip.cells.seasons
    row = model.row_of(2028)
    assert row is not None
    words = model.data(model.index(row), Qt.ItemDataRole.AccessibleTextRole)
    assert isinstance(words, str)
    assert f"by the plan {len(plan.seasons[2].trees)} trees, " in words
    cell = strip.cells.visualRect(model.index(row)).center()
    QTest.mouseClick(strip.cells.viewport(), Qt.MouseButton.LeftButton, pos=cell)
    assert desk.season == 2028
    assert desk.seen is not None
    giving = {desk.seen.trees[n].key for n in np.flatnonzero(desk.codes == CODES.index(Verdict.GIVING))}
    assert giving == {tree.key for tree, _ in plan.seasons[2].trees}
    assert strip.plan.isVisible()
    QTest.mouseClick(strip.plan.away, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: not strip.counted.as_now and not strip.counted.counting, timeout=PATIENCE_MS)
    assert counted(2028) == as_now
    assert not strip.plan.isVisible()
    assert not (desk.codes == CODES.index(Verdict.GIVING)).any()


def test_marking_keeps_the_plan_and_a_new_hole_puts_it_away(
    qtbot: QtBot, window: Window, dialog: RotationDialog, tmp_path: Path
) -> None:
    planned(qtbot, dialog)
    QTest.mouseClick(dialog.mark_button, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: window.desk.seen is not None and bool(window.desk.seen.plans), timeout=PATIENCE_MS)
    assert window.desk.rotation is dialog.planned
    told: list[str] = []
    window.desk.notice.connect(lambda _kind, text: told.append(text))
    assert run(["record", str(tmp_path / "wood.gpkg"), "--tree", "B0", "--what", "tapped"]) == 0
    qtbot.waitUntil(lambda: window.desk.rotation is None, timeout=PATIENCE_MS)
    assert any("plan of the coming seasons was put away" in text for text in told)


def test_the_card_says_when_the_plan_taps_a_tree(qtbot: QtBot, window: Window, dialog: RotationDialog) -> None:
    planned(qtbot, dialog)
    assert dialog.planned is not None
    tree = dialog.planned.seasons[1].trees[0][0]
    years = ", ".join(str(s.season) for s in dialog.planned.seasons if any(t.key == tree.key for t, _ in s.trees))
    window.desk.choose([tree.key])

    def said() -> bool:
        return any(f"it is tapped in {years};" in part.text() for part in window.card.findChildren(QLabel))

    qtbot.waitUntil(said, timeout=PATIENCE_MS)


def test_the_choose_page_leads_to_it_and_marks_its_first_season(qtbot: QtBot, window: Window) -> None:
    desk = window.desk
    desk.page_changed.emit("choose")
    page = window.pages["choose"]
    assert isinstance(page, ChoosePage)
    qtbot.waitUntil(page.plan_button.isVisible, timeout=PATIENCE_MS)
    assert not page.planned_button.isVisible()
    for _ in range(2):
        QTest.mouseClick(page.plan_button, Qt.MouseButton.LeftButton)
    (dialog,) = window.findChildren(RotationDialog)
    planned(qtbot, dialog)
    dialog.reject()
    assert page.planned_button.text() == "mark 2 trees for 2026"
    page.planned_button.setFocus()
    QTest.keyClick(page.planned_button, Qt.Key.Key_Space)
    assert desk.rotation is not None
    first = {tree.key for tree, _ in desk.rotation.seasons[0].trees}
    qtbot.waitUntil(
        lambda: desk.seen is not None and set(plans_of(desk.seen.plans, 2026)) == first, timeout=PATIENCE_MS
    )


def test_a_long_plan_has_all_its_seasons_on_the_strip(qtbot: QtBot, window: Window, dialog: RotationDialog) -> None:
    desk, strip = window.desk, window.strip
    dialog.years.edit.setText("14")
    planned(qtbot, dialog)
    qtbot.waitUntil(lambda: strip.cells.seasons.row_of(2039) is not None, timeout=PATIENCE_MS)
    dialog.table.selectRow(13)
    assert desk.season == 2039
    assert strip.cells.currentIndex().data() == "2039"
    (away,) = [one for one in window.pages["choose"].actions() if one.id == "season.put_plan_away"]
    assert away.enabled()
    away.run()
    assert desk.season == 2026
    assert not away.enabled()
    assert dialog.planned is None
    assert not dialog.table.isVisible()
    qtbot.waitUntil(lambda: strip.cells.seasons.row_of(2039) is None, timeout=PATIENCE_MS)


def test_a_plan_that_is_shown_is_there_when_the_dialog_is_opened_again(
    qtbot: QtBot, window: Window, dialog: RotationDialog
) -> None:
    dialog.years.edit.setText("5")
    planned(qtbot, dialog)
    dialog.reject()
    qtbot.waitUntil(lambda: window.findChild(RotationDialog) is None, timeout=PATIENCE_MS)
    rotation(window)
    again = window.findChild(RotationDialog)
    assert isinstance(again, RotationDialog)
    assert (again.years.edit.text(), again.table.rowCount()) == ("5", 5)
    assert again.planned is window.desk.rotation


def test_seasons_without_any_tree_are_named(
    qtbot: QtBot, window: Window, dialog: RotationDialog, tmp_path: Path
) -> None:
    ring = ((27.59, 61.89), (27.61, 61.89), (27.61, 61.91), (27.59, 61.91), (27.59, 61.89))
    leased = Area("a", "east", AreaKind.PERMITTED, (ring,), until_date=date(2027, 12, 31))
    with StandFile.open(tmp_path / "wood.gpkg") as file, file.writing("lease", window.desk.now()) as writing:
        writing.insert(leased)
    qtbot.waitUntil(lambda: window.desk.seen is not None and bool(window.desk.seen.stand.areas), timeout=PATIENCE_MS)
    dialog.years.edit.setText("4")
    planned(qtbot, dialog)
    texts = [dialog.more.itemAt(k).widget().text() for k in range(dialog.more.count())]  # type: ignore[union-attr]
    assert "no tree may be tapped in 2028, 2029" in texts


def test_other_rules_put_the_plan_away(qtbot: QtBot, window: Window, dialog: RotationDialog) -> None:
    planned(qtbot, dialog)
    now = window.desk.now()
    window.desk.run(lambda file, _: keep_rules(file, now, "cautious", {"return_after_years": 6}), "rules")
    qtbot.waitUntil(lambda: window.desk.rotation is None, timeout=PATIENCE_MS)
    assert dialog.planned is None
    assert not dialog.mark_button.isVisible()
