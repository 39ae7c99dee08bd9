"""Views that change smoothly, unless the system asks for less motion."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEasingCurve, QObject, Qt, QVariantAnimation
from PySide6.QtGui import QGuiApplication

GLIDE_MS = 120


def less_motion() -> bool:
    """Return whether the system asks for less motion; a Qt that cannot tell is taken for one that does not ask."""
    hints, preference = QGuiApplication.styleHints(), getattr(Qt, "MotionPreference", None)
    accessibility = getattr(hints, "accessibility", None)
    if accessibility is None or preference is None:
        return False
    return bool(accessibility().motionPreference() == preference.ReducedMotion)


class Glide(QVariantAnimation):
    """Goes from 0 to 1 in a moment and tells each step; at once where less motion is wanted.

    Attributes
    ----------
    calm
        Whether the person has asked for less motion, whatever the system says.
    """

    def __init__(self, parent: QObject, ms: int = GLIDE_MS) -> None:
        super().__init__(parent)
        self.setStartValue(0.0)
        self.setEndValue(1.0)
        self.setDuration(ms)
        self.setEasingCurve(QEasingCurve.Type.OutCubic)
        self.calm = False
        self._step: Callable[[float], None] = lambda _: None
        self.valueChanged.connect(self._stepped)

    @property
    def running(self) -> bool:
        """Whether it is on its way."""
        return self.state() == QVariantAnimation.State.Running

    def go(self, step: Callable[[float], None], *, animated: bool = True) -> None:
        """Begin anew with another step; what was on its way stays where it is."""
        self.stop()
        self._step = step
        if not animated or self.calm or less_motion():
            step(1.0)
            return
        self.start()

    def _stepped(self, part: float) -> None:
        # Starting tells the first value before anything has moved.
        if part > 0:
            self._step(part)
