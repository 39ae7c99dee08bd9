"""Every text a person reads goes through here, so that the window speaks their language.

English is written in the code; another language is a catalogue in resources/languages/ (TOML: English, translated).
A catalogue is a `QTranslator`, so the application holds the language and nothing here does.
"""

from __future__ import annotations

import re
import tomllib
from datetime import date
from functools import lru_cache
from typing import Any

from PySide6.QtCore import QCoreApplication, QDate, QLibraryInfo, QLocale, QTranslator

from standmap.assets import resource
from standmap.sentences import Sentences, with_decimal_mark

CONTEXT = "standmap"
SENTENCES = "sentences"
LOCALE = "locale"
DAY_FORMAT = "d MMM yyyy"

_DAY = re.compile(r"(?<!like )(?<!such as )(?<!['\w./\\-])(\d{4}-\d\d-\d\d)(?!['\w/\\-]|\.\w)")
"""A day as jobs write it; not one that is quoted, part of a file's name, or shown as the way to write it."""


class Catalogue(QTranslator):
    """The texts of one language: those of the window word for word, and patterns for the sentences that jobs make.

    Parameters
    ----------
    texts
        English text to translated text; placeholders are named in braces.
    sentences
        The same for sentences that arrive finished: a placeholder stands for whatever is there.
    of_qt
        Says what Qt's own parts say, such as a file dialog.
    ways
        How it writes days: its code and the format of a day, by the English ones.
    """

    def __init__(
        self,
        texts: dict[str, str],
        sentences: dict[str, str],
        of_qt: QTranslator | None = None,
        ways: dict[str, str] | None = None,
    ) -> None:
        super().__init__()
        self._ways = ways or {}
        self._of_qt = of_qt
        self._texts = texts
        self._words = sentences
        self._sentences = Sentences(sentences, texts)

    def translate(
        self,
        context: str | bytes,
        source: str | bytes,
        disambiguation: str | bytes | None = None,
        n: int = -1,
    ) -> str:
        """Return the text in this language; one that is not known, as it came."""
        source, context = _text(source), _text(context)
        if context == LOCALE:
            return self._ways.get(source, source)
        if context == SENTENCES:
            return self._sentences.said(source)
        if context == CONTEXT:
            return self._texts.get(source) or self._words.get(source) or source
        return (self._of_qt.translate(context, source, _text(disambiguation or ""), n) if self._of_qt else "") or source

    def isEmpty(self) -> bool:  # noqa: N802 - Qt's name
        """Return False: Qt asks nothing of an empty translator."""
        return False


def _text(text: str | bytes) -> str:
    return text.decode() if isinstance(text, bytes) else text


def catalogue(language: str) -> Catalogue | None:
    """Return the catalogue of a language such as "de", or None for English and languages that are not there."""
    path = resource("languages", f"{language}.toml")
    if language == "en" or not path.is_file():
        return None
    with path.open("rb") as opened:
        held: dict[str, Any] = tomllib.load(opened)
    of_qt = QTranslator()
    of_qt.load(f"qtbase_{language}", QLibraryInfo.path(QLibraryInfo.LibraryPath.TranslationsPath))
    return Catalogue(held["texts"], held["sentences"], of_qt, {"en": language, DAY_FORMAT: held["day"]})


@lru_cache(maxsize=1)
def languages() -> dict[str, str]:
    """Return the languages that are there: code and the language's own name for itself."""
    found = {"en": "English"}
    for path in sorted(resource("languages").glob("*.toml")):
        with path.open("rb") as opened:
            found[path.stem] = str(tomllib.load(opened)["name"])
    return found


def tr(text: str, **values: object) -> str:
    """Return a text in the person's language, with its named placeholders filled in."""
    translated = QCoreApplication.translate(CONTEXT, text)
    return translated.format(**values) if values else translated


def tr_n(one: str, many: str, n: int, **values: object) -> str:
    """Return the text for one or for several, `{n}` filled in."""
    return tr(one if n == 1 else many, n=n, **values)


def said(sentence: str) -> str:
    """Return a finished sentence of a job (a reason, a caution, an error) in the person's language."""
    told = QCoreApplication.translate(SENTENCES, _DAY.sub(_said_day, sentence))
    return with_decimal_mark(told, locale().decimalPoint())


def locale() -> QLocale:
    """Return how the person's language writes months and weekdays."""
    return QLocale(QCoreApplication.translate(LOCALE, "en"))


def day_text(day: date) -> str:
    """Return a day as it is read, such as 14 Sep 2024."""
    written = QCoreApplication.translate(LOCALE, DAY_FORMAT)
    return locale().toString(QDate(day.year, day.month, day.day), written)


def short_day_text(day: date) -> str:
    """Return a day without its year, such as 14 Sep."""
    written = QCoreApplication.translate(LOCALE, DAY_FORMAT).replace("yyyy", "").strip(" ,")
    return locale().toString(QDate(day.year, day.month, day.day), written)


def _said_day(found: re.Match[str]) -> str:
    try:
        return day_text(date.fromisoformat(found[1]))
    except ValueError:
        return found[1]
