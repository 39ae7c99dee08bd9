"""What becomes of sap that was brought together."""

from __future__ import annotations

from enum import StrEnum


class Fate(StrEnum):
    """What became of a batch; one that still waits has none."""

    DRUNK = "drunk"
    BOILED = "boiled"
    FERMENTED = "fermented"
    FROZEN = "frozen"
    SPOILED = "spoiled"
    GIVEN_AWAY = "given away"


def fate_of(text: str) -> Fate | None:
    """Return what became of a batch by its word; None while it waits, or for a word that is none of ours."""
    return next((fate for fate in Fate if fate == text), None)
