"""The map for those who do not see it: what is chosen or pointed at is told to a screen reader."""

from __future__ import annotations

from PySide6.QtGui import QAccessible, QAccessibleEvent
from PySide6.QtWidgets import QWidget

from standmap.desktop.canvas.trees import Trees
from standmap.desktop.words import said, tr
from standmap.rules.columns import CODES


def tree_words(trees: Trees, row: int) -> str:
    """Return a tree in words, such as "tree B27, resting"."""
    return tr("tree {name}, {verdict}", name=trees.names[row], verdict=said(str(CODES[int(trees.codes[row])])))


def tell(widget: QWidget, name: str, description: str) -> None:
    """Give the map a name and a description, and say so when they changed."""
    for text, old, put, event in (
        (name, widget.accessibleName(), widget.setAccessibleName, QAccessible.Event.NameChanged),
        (
            description,
            widget.accessibleDescription(),
            widget.setAccessibleDescription,
            QAccessible.Event.DescriptionChanged,
        ),
    ):
        if text != old:
            put(text)
            QAccessible.updateAccessibility(QAccessibleEvent(widget, event))
