"""The person's language outside the window: which one it is, and sentences of jobs said in it."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from standmap.assets import resource
from standmap.sentences import Sentences, with_decimal_mark

ENGLISH = "en"
VARIABLES = ("LC_ALL", "LC_MESSAGES", "LANG")
"""Where a system says its language; the first that is set holds (POSIX)."""


@dataclass(frozen=True, slots=True)
class Language:
    """A language: its code, such as "de", and what stands before its decimals."""

    code: str = ENGLISH
    decimal_mark: str = "."


def spoken(setting: str) -> Language:
    """Return the language of a setting: a code, or "system"; English where there is no catalogue of it."""
    code = setting
    if setting == "system":
        told = next((os.environ[name] for name in VARIABLES if os.environ.get(name)), "")
        code = told.split("_")[0].split(".")[0]
    held = _catalogue(code)
    return Language(code, str(held["decimal"])) if held else Language()


def said_in(language: Language) -> Callable[[str], str]:
    """Return what turns a finished sentence of a job into a language; days stay as they are written, 2026-03-28."""
    held = _catalogue(language.code)
    if not held:
        return str
    sentences = Sentences(held["sentences"], held["texts"])
    return lambda sentence: with_decimal_mark(sentences.said(sentence), language.decimal_mark)


@lru_cache(maxsize=2)
def _catalogue(code: str) -> dict[str, Any]:
    """Return the catalogue of a language, empty where there is none."""
    path = resource("languages", f"{code}.toml")
    if not (code.isascii() and code.isalpha() and path.is_file()):
        return {}
    return tomllib.loads(path.read_text(encoding="utf-8"))
