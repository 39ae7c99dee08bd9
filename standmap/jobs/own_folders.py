"""The folders that are standmap's own: for settings, for backups and samples, for reports."""

from __future__ import annotations

import os
from pathlib import Path

VARIABLE = "STANDMAP_CONFIG_DIR"
"""Set to a folder, everything of standmap's own goes there: for tests, and for a stick that carries all."""

PROGRAM = "standmap"


def config_folder() -> Path:
    """Return the folder of the settings; it need not be there yet."""
    from platformdirs import user_config_path

    return _instead() or user_config_path(PROGRAM, appauthor=False)


def data_folder() -> Path:
    """Return the folder of backups and of sample woods; it need not be there yet."""
    from platformdirs import user_data_path

    named = _instead()
    return named / "data" if named else user_data_path(PROGRAM, appauthor=False)


def log_folder() -> Path:
    """Return the folder of reports; it need not be there yet."""
    from platformdirs import user_log_path

    named = _instead()
    return named / "log" if named else user_log_path(PROGRAM, appauthor=False)


def _instead() -> Path | None:
    text = os.environ.get(VARIABLE, "")
    return Path(text).absolute() if text else None
