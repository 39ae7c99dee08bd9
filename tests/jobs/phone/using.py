"""What somebody with a phone does again and again."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from standmap.formats.phone_returns import PhoneReturns, phone_returns_of, read_phone_returns
from tests.jobs.phone.browser import Phone

Given = Callable[..., Path]
"""Writes the page of a walk to a file."""


def begin(phone: Phone, page: Path, *, position: bool = False) -> None:
    phone.open(page)
    if position:
        phone.press_text("show where I am")
    phone.press("#begin")


def emptied(phone: Phone, litres: str) -> None:
    phone.press("#at-tree")
    phone.type(".stepper input", litres)
    phone.press("#write")


def written(phone: Phone) -> PhoneReturns:
    return phone_returns_of(phone.js("return returnsText()"))


def saved(phone: Phone) -> PhoneReturns:
    """Return what the file says that the phone has just saved."""
    phone.until(lambda: [f for f in phone.downloads.iterdir() if f.suffix == ".txt" and f.stat().st_size])
    return read_phone_returns(next(phone.downloads.iterdir()))
