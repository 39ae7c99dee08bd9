"""What a job says while it works: one small protocol that the terminal and the window each implement."""

from __future__ import annotations

from typing import Protocol


class Messages(Protocol):
    """Receives plain sentences; where they end up is the caller's choice."""

    def tell(self, text: str) -> None:
        """Say something worth knowing."""

    def caution(self, text: str) -> None:
        """Say something that asks for care."""


class Silence:
    """Messages that nobody listens to."""

    def tell(self, text: str) -> None:
        """Drop the text."""

    def caution(self, text: str) -> None:
        """Drop the text."""


class Collected:
    """Messages kept in order, for a caller that shows them later."""

    def __init__(self) -> None:
        self.told: list[str] = []
        self.cautions: list[str] = []

    def tell(self, text: str) -> None:
        """Keep the text."""
        self.told.append(text)

    def caution(self, text: str) -> None:
        """Keep the text."""
        self.cautions.append(text)
