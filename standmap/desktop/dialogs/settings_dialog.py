"""A person's settings, drawn from their schema: each with its help, its bounds, and what is wrong with it beside it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QFrame, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from standmap.desktop.desk import Desk, wording
from standmap.desktop.dialogs.setting_row import SettingRow
from standmap.desktop.kit import button, hairline, heading, label
from standmap.desktop.words import said, tr
from standmap.errors import UserError
from standmap.jobs.preferences import check_grid, write_settings
from standmap.settings import Settings, groups, setting
from standmap.units_shown import System, UnitsShown

WIDTH_PX, HEIGHT_PX = 600, 700


class SettingsDialog(QDialog):
    """Nothing is changed until it is asked for.

    Attributes
    ----------
    rows
        One for each setting, by its name.
    """

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self.setWindowTitle(tr("settings"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.rows: dict[str, SettingRow] = {}
        self._build()
        scale = desk.settings.text_size_percent / 100
        room = self.screen().availableSize()
        self.resize(min(round(WIDTH_PX * scale), room.width()), min(round(HEIGHT_PX * scale), room.height()))

    def _build(self) -> None:
        scale = self._desk.settings.text_size_percent / 100
        units = self._desk.units
        sheet = QWidget()
        listed = QVBoxLayout(sheet)
        listed.setContentsMargins(24, 4, 24, 12)
        listed.setSpacing(14)
        for number, (title, settings) in enumerate(groups().items()):
            if number:
                listed.addWidget(hairline())
            listed.addWidget(heading(said(title)))
            for one in settings:
                row = SettingRow(one, getattr(self._desk.settings, one.name), units, scale)
                row.changed.connect(self._typed)
                self.rows[one.name] = row
                listed.addWidget(row)
        listed.addStretch(1)
        self.listed = QScrollArea()
        self.listed.setWidgetResizable(True)
        self.listed.setFrameShape(QFrame.Shape.NoFrame)
        self.listed.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.listed.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.listed.setWidget(sheet)
        for row in self.rows.values():
            row.reached.connect(lambda row=row: self.listed.ensureWidgetVisible(row, 0, 24))

        self.wrong = label("", "error")
        self.wrong.hide()
        self.first_values = button(tr("all as at first"), self._all_as_at_first, "link")
        self.keep_button = button(tr("keep"), self.keep, "primary")
        self.keep_button.setDefault(True)
        self.leave_button = button(tr("leave as it was"), self.reject, "quiet")
        foot = QVBoxLayout()
        foot.setContentsMargins(24, 0, 24, 0)
        foot.setSpacing(8)
        foot.addWidget(self.wrong)
        across = QHBoxLayout()
        across.addWidget(self.first_values)
        across.addStretch(1)
        across.addWidget(self.leave_button)
        across.addWidget(self.keep_button)
        foot.addLayout(across)
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 16, 0, 20)
        down.setSpacing(12)
        down.addWidget(self.listed, 1)
        down.addWidget(hairline())
        down.addLayout(foot)

    def wanted(self) -> Settings | None:
        """Return the settings as they are typed now, or None after saying what is wrong with them."""
        self._say("")
        values: dict[str, Any] = {}
        wrong = []
        for name, row in self.rows.items():
            if row.check():
                values[name] = row.value
            else:
                wrong.append(row)
        if wrong:
            self._say(tr("what is wrong stands beside it"))
            wrong[0].setFocus()
            return None
        try:
            return replace(self._desk.settings, **values)
        except UserError as error:
            self._say(wording(error))
            return None

    def keep(self) -> None:
        """Keep the settings, have the window follow them, and close."""
        settings = self.wanted()
        if settings is None or not self._grid_is_one(settings):
            return
        try:
            write_settings(settings)
        except UserError as error:
            self._say(wording(error))
            return
        changed = settings != self._desk.settings
        self._desk.settings = settings
        self.accept()
        if changed:
            self._desk.settings_changed.emit()

    def _grid_is_one(self, settings: Settings) -> bool:
        epsg = settings.national_grid_epsg
        if epsg is None or epsg == self._desk.settings.national_grid_epsg:
            return True
        try:
            check_grid(epsg)
        except UserError as error:
            row = self.rows["national_grid_epsg"]
            row.say(wording(error))
            row.setFocus()
            return False
        return True

    def _typed(self, name: str) -> None:
        self._say("")
        if name == "units":
            units = UnitsShown(System(str(self.rows["units"].value)))
            for row in self.rows.values():
                row.show_in(units)

    def _all_as_at_first(self) -> None:
        for name, row in self.rows.items():
            row.put(setting(name).default)
        self._typed("units")

    def _say(self, text: str) -> None:
        self.wrong.setText(text)
        self.wrong.setVisible(bool(text))
