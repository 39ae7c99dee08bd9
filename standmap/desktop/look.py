"""Which look, language and type the system and the settings ask for."""

from __future__ import annotations

from PySide6.QtCore import QLocale, Qt
from PySide6.QtGui import QFont, QFontDatabase, QGuiApplication
from PySide6.QtWidgets import QApplication

from standmap.desktop.theme import DARK, LIGHT, THEMES, Theme
from standmap.desktop.words import Catalogue, catalogue, languages
from standmap.settings import Settings
from standmap.units_shown import System, UnitsShown

SYSTEM = "system"
DRAWN_WITH = "Inter"
"""Taken where the system's own choice is a stand-in ("Sans Serif") and this one is there."""


def theme_for(settings: Settings) -> Theme:
    """Return the look that was set, or the system's."""
    if settings.look != SYSTEM:
        return THEMES[settings.look]
    return DARK if QGuiApplication.styleHints().colorScheme() is Qt.ColorScheme.Dark else LIGHT


def language_for(settings: Settings) -> str:
    """Return the code of the language that was set, or the system's if the window speaks it, else English."""
    if settings.language != SYSTEM:
        return settings.language
    code = QLocale.system().name().split("_")[0]
    return code if code in languages() else "en"


def units_for(settings: Settings) -> UnitsShown:
    """Return the units that were set, with the decimal mark of the language."""
    return UnitsShown(System(settings.units), QLocale(language_for(settings)).decimalPoint())


def speak(app: QApplication, language: str, before: Catalogue | None) -> Catalogue | None:
    """Let the application speak a language in place of the one before; return what is to be handed in next time."""
    if before is not None:
        app.removeTranslator(before)
    spoken = catalogue(language)
    if spoken is not None:
        spoken.setParent(app)
        app.installTranslator(spoken)
    return spoken


def set_type(app: QApplication) -> None:
    """Choose the typeface: the system's, unless it names none."""
    font = QFont(app.font())
    if font.family() in ("Sans Serif", "Sans") and DRAWN_WITH in QFontDatabase.families():
        font.setFamily(DRAWN_WITH)
    font.setFeature(QFont.Tag("tnum"), 1)  # numbers in columns stand under each other
    app.setFont(font)
