"""An adjustment on its way: worked out off the GUI thread, shown in the panel and on the map, accepted as one step."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QObject

from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.desk import Desk
from standmap.desktop.guard import guard_of
from standmap.desktop.pages.survey.adjust_overlay import AdjustOverlay
from standmap.desktop.pages.survey.adjust_sheet import AdjustSheet
from standmap.desktop.pages.survey.sight import bring_into_sight
from standmap.desktop.words import said, tr, tr_n
from standmap.desktop.working import Work
from standmap.jobs.adjust import NetworkChangedError, adjusted, set_used, store_adjustment
from standmap.jobs.adjust_answer import Adjustment
from standmap.jobs.adjust_basis import Basis, read_basis
from standmap.jobs.instruments import instruments_of


class Adjusting(QObject):
    """Joins the reading, the solving, the sheet and the overlay.

    Parameters
    ----------
    show_sheet
        Shows a sheet in the panel.
    go_home
        Shows what else there is to do on the page.
    set_map
        Puts the overlays of the page onto the map anew.
    """

    def __init__(
        self,
        desk: Desk,
        canvas: MapCanvas,
        show_sheet: Callable[[object], None],
        go_home: Callable[[], None],
        set_map: Callable[[], None],
    ) -> None:
        super().__init__(desk)
        self._desk = desk
        self._canvas = canvas
        self._show_sheet = show_sheet
        self._go_home = go_home
        self._set_map = set_map
        self.sheet = AdjustSheet(desk)
        self.overlay: AdjustOverlay | None = None
        self._path: Path | None = None
        self._work: Work[Adjustment] | None = None
        self._asked = 0
        self._fit = False
        self._accepting = False
        self.sheet.accept_wanted.connect(self.accept)
        self.sheet.left.connect(self.leave)
        self.sheet.stop_wanted.connect(self.stop)
        self.sheet.leave_out_wanted.connect(lambda key: self._use(key, used=False))
        self.sheet.take_in_wanted.connect(lambda key: self._use(key, used=True))
        self.sheet.looked_at.connect(self._look_at)

    @property
    def under_way(self) -> bool:
        """Whether it is being worked out."""
        return self._work is not None

    def begin(self) -> None:
        """Work the best of all that was measured out, and show it."""
        if self._desk.seen is None:
            return
        self._path = self._desk.path
        self._fit = True
        self._begin()

    def _begin(self) -> None:
        self._let_go()
        asked = self._asked
        self.sheet.begin()
        self._show_sheet(self.sheet)
        self._desk.run(
            lambda file, _: read_basis(file),
            "",
            lambda basis: self._solve(asked, basis),
            lambda error: self._failed(asked, error),
        )

    def _solve(self, asked: int, basis: Basis) -> None:
        if asked != self._asked:
            return
        usual = instruments_of(self._desk.settings)
        begun = self._desk.compute(
            lambda watch: adjusted(basis, progress=watch, usual=usual),
            tr("adjusting positions"),
            lambda adjustment: self._solved(asked, adjustment),
            lambda error: self._failed(asked, error),
        )
        begun.progressed.connect(self.sheet.progress)
        self._work = begun

    def _solved(self, asked: int, adjustment: Adjustment) -> None:
        if asked != self._asked:
            return
        self._work = None
        self.sheet.show_adjustment(adjustment)
        self.overlay = AdjustOverlay(adjustment, self._desk.settings.text_size_percent / 100)
        self._set_map()
        if self.sheet.isVisible():
            (self.sheet.accept if self.sheet.can_accept else self.sheet.leave).setFocus()
            if self._fit and len(self.overlay.at):
                bring_into_sight(self._canvas, self.overlay.at)
        self._fit = False

    def _failed(self, asked: int, error: Exception) -> None:
        if asked != self._asked:
            return
        stopped = self._work is not None and self._work.stopping
        self._work = None
        if stopped:
            self._go_home()
        else:
            self.sheet.fail(error)
            self.sheet.leave.setFocus()

    def stop(self) -> None:
        """Stop working it out; nothing was moved."""
        if self._work is not None:
            self._work.cancel()
        else:
            self.leave()

    def _look_at(self, points: tuple[str, ...]) -> None:
        if self.overlay is None:
            return
        self.overlay.current = points
        places = self.overlay.places_of(points)
        if len(places):
            self._canvas.centre_on(*places.mean(axis=0).tolist())
        self._set_map()

    # What is written

    def accept(self) -> None:
        """Move everything to where it lies best, as one step."""
        adjustment = self.sheet.adjustment
        if adjustment is None or not self.sheet.can_accept:
            return
        now = self._desk.now()
        self._accepting = True
        self.sheet.accept.setEnabled(False)
        guard_of(self._desk).once(
            "adjust",
            lambda file, _: store_adjustment(file, adjustment, now),
            tr("moving trees"),
            self._stored,
            self._not_stored,
        )

    def _stored(self, moved: int) -> None:
        self._accepting = False
        self._desk.tell(tr_n("{n} position was moved", "{n} positions were moved", moved))
        self.leave()

    def _not_stored(self, error: Exception) -> None:
        self._accepting = False
        if isinstance(error, NetworkChangedError):
            self._desk.caution(tr("the stand has changed since: it is adjusted once more, then accept"))
            self._begin()
        else:
            self.sheet.accept.setEnabled(self.sheet.can_accept)
            self._desk.error(error)

    def _use(self, key: str, *, used: bool) -> None:
        """Leave an observation out, or take it back in, as a step of its own; then it is adjusted anew."""
        now = self._desk.now()

        def done(told: tuple[str, ...]) -> None:
            what = said(told[0])
            self._desk.tell(tr("taken back in: {what}", what=what) if used else tr("left out: {what}", what=what))

        guard_of(self._desk).once(
            ("use", key),
            lambda file, _: set_used(file, [key], now, used=used),
            tr("leaving out") if not used else tr("taking back in"),
            done,
        )

    def leave(self) -> None:
        """Let it go; nothing more is moved."""
        self._let_go()
        self._go_home()

    def _let_go(self) -> None:
        self._asked += 1
        if self._work is not None:
            self._work.cancel()
            self._work = None
        self.overlay = None
        self.sheet.adjustment = None

    def stand_changed(self) -> None:
        """Work it out anew while it is shown; let it go where another stand is open."""
        if self._accepting:
            return
        if self._desk.seen is None or self._desk.path != self._path:
            self._let_go()
            if not self.sheet.isHidden():
                self._go_home()
        elif not self.sheet.isHidden():
            self._begin()
