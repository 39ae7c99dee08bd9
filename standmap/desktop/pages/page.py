"""What a page is: a panel beside the map, what it shows on the map, and what can be done there."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QObject

from standmap.desktop.actions import Action
from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.desk import Desk
from standmap.desktop.kit import Panel


class Page(QObject):
    """One of the pages over the map; a page owns its panel and sets up the map while it is shown.

    Attributes
    ----------
    name
        Never shown: "survey", "choose", "collect", "aftercare".
    title
        As the header shows it.
    panel
        The sheet at the left, 300 wide.
    shown
        Whether it is the page that is seen.
    """

    name = ""

    def __init__(self, desk: Desk, canvas: MapCanvas, title: str) -> None:
        super().__init__(desk)
        self.desk = desk
        self.canvas = canvas
        self.title = title
        self.panel = Panel("panel", title)
        self.shown = False

    def actions(self) -> Sequence[Action]:
        """Return what can be done on this page."""
        return ()

    def entered(self) -> None:
        """Set up the map for this page; the window has taken off what the page before had put there."""

    def unfinished(self) -> bool:
        """Return whether something was begun here that is stored nowhere yet."""
        return False

    def left(self) -> None:
        """Let go: what was typed here is kept."""
