"""Asking for the file that something is written into."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QStandardPaths
from PySide6.QtWidgets import QFileDialog, QWidget

from standmap.desktop.desk import Desk


def asked_file(over: QWidget, desk: Desk, folder: Path | None, title: str, name: str, kind: str) -> Path | None:
    """Return where something is to be written; None where the person thought better of it.

    Parameters
    ----------
    folder
        Where files were written last, if they were.
    name
        What the file is called unless the person calls it otherwise; a name typed without an ending gets its own.
    """
    begin = str(folder) if folder is not None else usual_folder(desk)
    chosen, _ = QFileDialog.getSaveFileName(over, title, str(Path(begin) / name), kind)
    if not chosen:
        return None
    path = Path(chosen)
    return path if path.suffix else path.with_suffix(Path(name).suffix)


def usual_folder(desk: Desk) -> str:
    """Return the folder of the open stand, else that of the person's documents."""
    if desk.path is not None:
        return str(desk.path.parent)
    return QStandardPaths.writableLocation(QStandardPaths.StandardLocation.DocumentsLocation)
