"""What can be done with a stand as a whole: open, make, keep safe, hand on, rules, settings."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtWidgets import QFileDialog

from standmap.desktop.actions import Action
from standmap.desktop.words import tr
from standmap.errors import UserError
from standmap.jobs.export import export
from standmap.jobs.opening import new_stand

if TYPE_CHECKING:
    from standmap.desktop.window import Window

STANDS = "*.gpkg"


def stand_actions(window: Window) -> list[Action]:
    """Return them in the order of the stand's own menu."""
    desk = window.desk

    def is_open() -> bool:
        return desk.seen is not None

    def can_write() -> bool:
        return not desk.read_only

    return [
        Action("stand.open", tr("open a stand..."), lambda: open_chosen(window), "Ctrl+O"),
        Action("stand.new", tr("make a new stand..."), lambda: make_new(window), "Ctrl+N"),
        Action(
            "stand.hand_on",
            tr("hand on as GeoJSON, CSV and GPX..."),
            lambda: hand_on(window),
            "Ctrl+E",
            enabled=is_open,
            words=tr("export save"),
        ),
        Action(
            "stand.picture",
            tr("picture of the map..."),
            lambda: picture(window),
            "Ctrl+P",
            enabled=is_open,
            words=tr("print PDF SVG PNG"),
        ),
        Action(
            "stand.backups", tr("backups..."), lambda: backups(window), enabled=is_open, words=tr("restore safe copy")
        ),
        Action(
            "stand.rules",
            tr("rules..."),
            lambda: rules(window),
            "Ctrl+Shift+R",
            enabled=is_open,
            words=tr("rule set figures girth rest"),
        ),
        Action(
            "stand.rotation",
            tr("plan the coming seasons..."),
            lambda: rotation(window),
            enabled=is_open,
            words=tr("rotation rest years which trees when"),
        ),
        Action(
            "settings", tr("settings..."), lambda: settings(window), "Ctrl+,", words=tr("units look language text size")
        ),
        Action("stand.close", tr("close the stand"), desk.close_stand, "Ctrl+W", enabled=is_open),
    ]


def open_chosen(window: Window) -> None:
    """Ask for a stand and open it."""
    name, _ = QFileDialog.getOpenFileName(window, tr("open a stand"), _folder(window), tr("stands") + f" ({STANDS})")
    if name:
        window.desk.open_stand(Path(name))


def make_new(window: Window) -> None:
    """Ask for a name, make an empty stand and open it."""
    name, _ = QFileDialog.getSaveFileName(
        window, tr("make a new stand"), _folder(window), tr("stands") + f" ({STANDS})"
    )
    if not name:
        return
    path = Path(name)
    if not path.suffix:
        path = path.with_suffix(".gpkg")
    try:
        new_stand(path)
    except UserError as error:
        window.desk.error(error)
        return
    window.desk.open_stand(path)


def hand_on(window: Window) -> None:
    """Ask for a folder and write the stand there in open formats."""
    folder = QFileDialog.getExistingDirectory(window, tr("folder for the files"), _folder(window))
    if not folder:
        return

    def written(paths: object) -> None:
        names = ", ".join(p.name for p in paths) if isinstance(paths, list | tuple) else ""
        window.desk.tell(tr("written to {folder}: {files}", folder=folder, files=names))

    window.desk.run(lambda file, _: export(file.stand(), Path(folder), replace=True), tr("writing the files"), written)


def picture(window: Window) -> None:
    """Ask how the map is to be drawn, and draw it to a file."""
    from standmap.desktop.pictures.picture_dialog import PictureDialog

    PictureDialog(window.desk, window.canvas, window).open()


def backups(window: Window) -> None:
    """Show the backups of this stand."""
    from standmap.desktop.dialogs.backups_dialog import BackupsDialog

    BackupsDialog(window.desk, window).open()


def rules(window: Window) -> None:
    """Show the rules of this stand."""
    from standmap.desktop.dialogs.rules_dialog import RulesDialog

    RulesDialog(window.desk, window).open()


def rotation(window: Window) -> None:
    """Show the coming seasons beside the map."""
    from standmap.desktop.dialogs.rotation_dialog import open_rotation

    open_rotation(window.desk, window)


def settings(window: Window) -> None:
    """Show the settings."""
    from standmap.desktop.dialogs.settings_dialog import SettingsDialog

    SettingsDialog(window.desk, window).open()


def _folder(window: Window) -> str:
    return str(window.desk.path.parent) if window.desk.path is not None else ""
