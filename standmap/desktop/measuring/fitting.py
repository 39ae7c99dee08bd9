"""A sheet just as high as its content: Qt's own hint counts texts that are not wrapped and parts on their way out."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLayout, QWidget


def fit_height(widget: QWidget, width: int) -> None:
    """Make a sheet so wide, and as high as what is in it then needs."""
    widget.setFixedWidth(width)
    layout = widget.layout()
    if layout is None:
        return
    _ready(layout)
    layout.activate()
    high = layout.totalHeightForWidth(width) if layout.hasHeightForWidth() else layout.totalSizeHint().height()
    widget.setFixedHeight(high)


def _ready(layout: QLayout) -> None:
    """Let parts that were put in just now count: Qt would show and style them only when it is idle."""
    for number in range(layout.count()):
        item = layout.itemAt(number)
        part, inner = (None, None) if item is None else (item.widget(), item.layout())
        if part is not None:
            if not part.testAttribute(Qt.WidgetAttribute.WA_WState_ExplicitShowHide):
                part.show()
            part.ensurePolished()
            inner = part.layout()
        if inner is not None:
            _ready(inner)
    layout.invalidate()
