"""The settings dialog as a person uses it: drawn from the schema, faults beside the field, nothing kept unasked."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QCheckBox, QComboBox, QFileDialog, QLineEdit, QWidget
from pytestqt.qtbot import QtBot

from standmap.desktop.desk import Desk
from standmap.desktop.dialogs.settings_dialog import SettingsDialog
from standmap.desktop.dialogs.settings_form import bounds, read, shown, unit_of
from standmap.errors import UserError
from standmap.jobs.own_folders import config_folder
from standmap.jobs.preferences import read_settings
from standmap.settings import SCHEMA, Kind, Settings, setting
from standmap.units_shown import System, UnitsShown


@pytest.fixture
def desk(qapp: QApplication) -> Iterator[Desk]:
    assert qapp is not None
    made = Desk(Settings())
    yield made
    made.close_stand()


@pytest.fixture
def dialog(desk: Desk, qtbot: QtBot) -> SettingsDialog:
    made = SettingsDialog(desk)
    made.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, False)
    qtbot.addWidget(made)
    made.open()
    qtbot.waitExposed(made)
    return made


def line(dialog: SettingsDialog, name: str) -> QLineEdit:
    control = dialog.rows[name].control
    assert isinstance(control, QLineEdit)
    return control


def type_in(dialog: SettingsDialog, name: str, text: str) -> None:
    edit = line(dialog, name)
    edit.setFocus()
    QTest.keyClick(edit, Qt.Key.Key_A, Qt.KeyboardModifier.ControlModifier)
    QTest.keyClick(edit, Qt.Key.Key_Delete)
    QTest.keyClicks(edit, text)


def choose(dialog: SettingsDialog, name: str, value: str) -> None:
    control = dialog.rows[name].control
    assert isinstance(control, QComboBox)
    control.setFocus()
    QTest.keyClick(control, Qt.Key.Key_Home)
    while control.currentData() != value:
        before = control.currentIndex()
        QTest.keyClick(control, Qt.Key.Key_Down)
        assert control.currentIndex() == before + 1


def press(button: QWidget) -> None:
    QTest.mouseClick(button, Qt.MouseButton.LeftButton)


def test_every_setting_is_there_with_a_name_and_its_help(dialog: SettingsDialog) -> None:
    assert list(dialog.rows) == [one.name for one in SCHEMA]
    for one in SCHEMA:
        control = dialog.rows[one.name].control
        assert control.accessibleName() == one.title
        assert control.accessibleDescription() == one.help
        assert control.focusPolicy() & Qt.FocusPolicy.TabFocus


def test_all_can_be_reached_by_the_tab_key(dialog: SettingsDialog) -> None:
    reached = set()
    for _ in range(40):
        widget = dialog.focusWidget()
        reached.add(widget)
        QTest.keyClick(widget, Qt.Key.Key_Tab)
    assert {row.control for row in dialog.rows.values()} | {dialog.keep_button, dialog.leave_button} <= reached


def test_what_is_kept_reaches_the_desk_and_the_disk(dialog: SettingsDialog, desk: Desk, qtbot: QtBot) -> None:
    choose(dialog, "look", "dark")
    type_in(dialog, "collectors", "2")
    type_in(dialog, "capacity_kg", "12,5")
    box = dialog.rows["names_on_map"].control
    assert isinstance(box, QCheckBox)
    box.setFocus()
    QTest.keyClick(box, Qt.Key.Key_Space)
    with qtbot.waitSignal(desk.settings_changed):
        press(dialog.keep_button)
    wanted = Settings(look="dark", collectors=2, capacity_kg=12.5, names_on_map=False)
    assert desk.settings == read_settings() == wanted
    assert not dialog.isVisible()
    kept = json.loads((config_folder() / "settings.json").read_text())
    assert set(kept) == {"format", "look", "collectors", "capacity_kg", "names_on_map"}


def test_nothing_is_kept_unasked(dialog: SettingsDialog, desk: Desk) -> None:
    choose(dialog, "units", "us")
    press(dialog.leave_button)
    assert desk.settings == Settings()
    assert not (config_folder() / "settings.json").exists()


def test_what_is_wrong_stands_beside_it_and_what_was_typed_stays(dialog: SettingsDialog, desk: Desk) -> None:
    type_in(dialog, "collectors", "99")
    row = dialog.rows["collectors"]
    assert row.wrong.isVisible()
    assert row.wrong.text() == "'99' cannot be set. Choose a whole number from 1 to 20"
    assert line(dialog, "collectors").accessibleDescription() == row.wrong.text()
    press(dialog.keep_button)
    assert dialog.isVisible()
    assert dialog.wrong.isVisible()
    assert line(dialog, "collectors").text() == "99"
    assert desk.settings == Settings()
    QTest.keyClick(line(dialog, "collectors"), Qt.Key.Key_Backspace)
    assert not row.wrong.isVisible()


def test_cans_heavier_than_the_load_are_told(dialog: SettingsDialog, desk: Desk) -> None:
    type_in(dialog, "capacity_kg", "5")
    type_in(dialog, "can_kg", "9")
    press(dialog.keep_button)
    assert "leave no room" in dialog.wrong.text()
    assert desk.settings == Settings()


def test_a_code_that_is_no_grid_is_told_beside_it(dialog: SettingsDialog, desk: Desk) -> None:
    type_in(dialog, "national_grid_epsg", "4326")
    press(dialog.keep_button)
    assert "is no grid" in dialog.rows["national_grid_epsg"].wrong.text()
    type_in(dialog, "national_grid_epsg", "3067")
    press(dialog.keep_button)
    assert desk.settings.national_grid_epsg == 3067


def test_measures_follow_the_units_at_once_and_lose_nothing(dialog: SettingsDialog, desk: Desk) -> None:
    choose(dialog, "units", "us")
    assert line(dialog, "capacity_kg").text() == "26.5"
    assert line(dialog, "vessel_ml").text() == "1.19"
    choose(dialog, "units", "imperial")
    assert line(dialog, "vessel_ml").text() == "0.99"
    press(dialog.keep_button)
    assert desk.settings == Settings(units="imperial")  # to the last gram


def test_all_as_at_first(dialog: SettingsDialog) -> None:
    choose(dialog, "units", "us")
    type_in(dialog, "collectors", "99")
    press(dialog.first_values)
    assert dialog.wanted() == Settings()
    assert line(dialog, "capacity_kg").text() == "12.0"


def test_a_folder_is_chosen(
    dialog: SettingsDialog, desk: Desk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    type_in(dialog, "backup_folder", "copies")
    assert "whole path" in dialog.rows["backup_folder"].wrong.text()
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: str(tmp_path))
    choose_folder = dialog.rows["backup_folder"].choose_button
    assert choose_folder is not None
    press(choose_folder)
    press(dialog.keep_button)
    assert desk.settings.backup_folder == str(tmp_path)


def test_a_disk_that_refuses_is_told(dialog: SettingsDialog, desk: Desk) -> None:
    config_folder().write_text("a file")
    type_in(dialog, "collectors", "3")
    press(dialog.keep_button)
    assert "could not be written" in dialog.wrong.text()
    assert dialog.isVisible()
    assert desk.settings == Settings()


@pytest.mark.parametrize("text", ["🌳", "\u202e12", "9" * 10_000, "-1", "0x2"])
def test_no_text_is_too_strange(dialog: SettingsDialog, text: str) -> None:
    edit = line(dialog, "collectors")
    edit.setFocus()
    edit.selectAll()
    edit.insert(text)
    press(dialog.keep_button)
    assert dialog.rows["collectors"].wrong.text()
    assert edit.text() == text


@pytest.mark.parametrize("system", list(System))
def test_every_measure_is_read_back_as_it_was(system: System) -> None:
    units = UnitsShown(system)
    for one in SCHEMA:
        assert read(one, shown(one, one.default, units), one.default, units) == one.default
        if one.kind is Kind.NUMBER:
            least, most = bounds(one, units)
            assert read(one, least, one.default, units) == one.least
            assert read(one, most, one.default, units) == one.most
            with pytest.raises(UserError, match=f"choose (a number from )?{least} to {most} {unit_of(one, units)}"):
                read(one, "1000000", one.default, units)
    assert read(setting("capacity_kg"), "10 kg", 15.0, units) == 10
