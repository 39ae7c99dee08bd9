"""How the window starts and ends: application, language, look, the last place of the window, faults of ours."""

from __future__ import annotations

import base64
import signal
import sys
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QByteArray, QObject, Qt, QTimer
from PySide6.QtGui import QGuiApplication, QIcon
from PySide6.QtWidgets import QApplication, QMessageBox

from standmap.assets import resource
from standmap.desktop.desk import Desk
from standmap.desktop.look import language_for, set_type, speak, theme_for
from standmap.desktop.tidying import Tidying
from standmap.desktop.window import Window
from standmap.desktop.words import Catalogue, said, tr
from standmap.jobs import clock
from standmap.jobs.backups import back_up_when_opened
from standmap.jobs.cloud_folder import warn_if_synced
from standmap.jobs.crash_report import watch_for_faults, write_report
from standmap.jobs.preferences import read_lately, read_settings, write_lately
from standmap.messages import Collected
from standmap.settings import Settings

APP_ID = "standmap"

TURN_S = 0.001
"""After so long another thread of Python lets the GUI thread have its turn; Python's own 5 ms add up to stutter."""


def application() -> QApplication:
    """Return the one application, made and dressed if it is not there yet."""
    known = QApplication.instance()
    if isinstance(known, QApplication):
        return known
    QGuiApplication.setHighDpiScaleFactorRoundingPolicy(Qt.HighDpiScaleFactorRoundingPolicy.PassThrough)
    app = QApplication(sys.argv[:1])
    app.setApplicationName(APP_ID)
    app.setDesktopFileName(APP_ID)
    app.setStyle("Fusion")  # the same parts everywhere, so that the style sheet holds everywhere
    app.setWindowIcon(QIcon(str(resource("icons", "standmap.svg"))))
    set_type(app)
    Tidying(app)
    sys.setswitchinterval(TURN_S)
    return app


class Shell(QObject):
    """Holds the desk and its window, and makes both anew where a setting asks for it.

    Parameters
    ----------
    keep
        Whether what was open lately is read and kept.
    """

    def __init__(self, app: QApplication, settings: Settings, *, keep: bool = True) -> None:
        super().__init__()
        self._app = app
        self._keep = keep
        self._spoken: Catalogue | None = None
        self._make(settings)
        QGuiApplication.styleHints().colorSchemeChanged.connect(lambda _: self._settings_changed())

    def show(self) -> None:
        """Show the window where it was last."""
        kept = read_lately().window if self._keep else ""
        if kept:
            self.window.restoreGeometry(QByteArray(base64.b64decode(kept.encode("ascii", "ignore"))))
        self.window.show()

    def broke(self, error: BaseException) -> None:
        """Say that we made a mistake, and where the report lies."""
        path = write_report(error, clock.now())
        sheet = QMessageBox(self.window)
        sheet.setWindowTitle("standmap")
        sheet.setText(tr("something went wrong in standmap; what was stored before is safe"))
        sheet.setInformativeText(
            tr(
                "a report that holds no data of your stand was written: {path}; you may go on, or close and open again",
                path=path,
            )
        )
        sheet.setStandardButtons(QMessageBox.StandardButton.Ok)
        sheet.open()

    def _make(self, settings: Settings) -> None:
        self._made_with = settings
        self._spoken = speak(self._app, language_for(settings), self._spoken)
        self.desk = Desk(settings, theme_for(settings))
        self.window = Window(self.desk)
        self.window.closing.connect(self._closing)
        self.desk.settings_changed.connect(self._settings_changed)
        self.desk.stand_opened.connect(self._opened)
        self.desk.broke.connect(self.broke)

    def _opened(self, path: Path) -> None:
        if not self._keep:
            return
        write_lately(read_lately().opened(path))
        heard = Collected()
        warn_if_synced(path, heard)
        for text in heard.cautions:
            self.desk.caution(said(text))
        settings = self.desk.settings
        if not self.desk.read_only:
            self.desk.run(
                lambda file, watch: back_up_when_opened(file.path, settings, clock.now(), watch),
                tr("making the backup of the day"),
            )

    def _closing(self) -> None:
        if self._keep:
            place = base64.b64encode(bytes(self.window.place().data())).decode("ascii")
            write_lately(replace(read_lately(), window=place))

    def _settings_changed(self) -> None:
        before, settings = self._made_with, self.desk.settings
        if (settings.language, settings.text_size_percent) != (before.language, before.text_size_percent):
            # Texts and measures are set when a part is made: all parts are made anew.
            if self.window.unfinished():
                told = tr("language and text size change when standmap is opened again: what you have begun here stays")
                self.desk.tell(told)
                return
            self._made_with = settings
            QTimer.singleShot(0, self, self._make_anew)
            return
        theme = theme_for(settings)
        if theme is not self.desk.theme:
            self.desk.theme = theme
            self.desk.settings_changed.emit()

    def _make_anew(self) -> None:
        window, desk = self.window, self.desk
        path, season, chosen = desk.path, desk.season, desk.chosen
        page = window.page.name if window.page is not None else "choose"
        place = window.saveGeometry()
        self._make(desk.settings)
        window.hide()
        window.close()
        window.deleteLater()
        self.window.restoreGeometry(place)
        self.window.show()
        if path is not None:
            self.desk.season = season
            self.desk.chosen = chosen
            self.window.show_page(page)
            self.desk.open_stand(path)


def run(path: Path | None = None) -> int:
    """Open the window, on a stand or on the start, and return the exit code when it is closed."""
    app = application()
    messages = Collected()
    shell = Shell(app, read_settings(messages))
    watch_for_faults(shell.broke)
    # Ctrl-C at the terminal closes the window; Python sees the signal when it gets a turn.
    signal.signal(signal.SIGINT, lambda *_: shell.window.close())
    turn = QTimer()
    turn.start(200)
    turn.timeout.connect(lambda: None)
    for text in messages.cautions:
        shell.desk.caution(said(text))
    if path is not None:
        shell.desk.open_stand(path)
    shell.show()
    return app.exec()
