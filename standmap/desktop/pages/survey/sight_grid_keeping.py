"""Joins the quick entry of sights with the map and the stand: looked at while it is typed, kept as one edit."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from PySide6.QtCore import QObject, QTimer

from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.desk import Desk, wording
from standmap.desktop.guard import guard_of, while_there
from standmap.desktop.pages.survey.review_list import units_of
from standmap.desktop.pages.survey.sight import bring_into_sight
from standmap.desktop.pages.survey.sight_grid import SightGrid
from standmap.desktop.pages.survey.sight_grid_overlay import SightOverlay
from standmap.desktop.pages.survey.sight_grid_row import SightRow
from standmap.desktop.words import said, tr, tr_n
from standmap.jobs.bring_items import Fate
from standmap.jobs.bring_sight_checks import Closing
from standmap.jobs.bring_sights import TakenSight
from standmap.jobs.sights import DoubtfulSightError, Looked, add_sights, look_at_sights
from standmap.units_shown import UnitsShown

LOOK_AFTER_MS = 120
"""Typing rests so long before the rows are looked at."""


class SightKeeping(QObject):
    """Holds the sheet and its overlay; the rows stay in the sheet until they are kept or cleared.

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
        self._set_map = set_map
        self._guard = guard_of(desk)
        self._looks = 0
        self.sheet = SightGrid(desk)
        self.overlay: SightOverlay | None = None
        self._rest = QTimer(self.sheet)  # it goes with the window, the desk may stay
        self._rest.setSingleShot(True)
        self._rest.setInterval(LOOK_AFTER_MS)
        self._rest.timeout.connect(self.look)
        self.sheet.changed.connect(self._rest.start)
        self.sheet.keep_wanted.connect(self.keep)
        self.sheet.left.connect(go_home)

    def begin(self) -> None:
        """Show the sheet, with the rows that are in it already."""
        if self._desk.read_only or self._desk.seen is None:
            return
        self.sheet.show_units()
        self._tell_names()
        self._show_sheet(self.sheet)
        tree = self._desk.chosen_tree
        first = self.sheet.rows[0]
        if tree is not None and first.untouched and not first.cells["from"].text():
            first.set_from(tree.name)
        self.sheet.focus_first()
        self.look()

    def stand_changed(self) -> None:
        """Look at the rows anew, as the stand is by now."""
        if self._desk.seen is None:
            self.overlay = None
            self.sheet.begin_anew()
        elif not self.sheet.isHidden():
            self._tell_names()
            self._rest.start()

    def _tell_names(self) -> None:
        seen = self._desk.seen
        if seen is not None:
            places = [p.name for p in seen.stand.places]
            self.sheet.show_known(sorted({*(t.name for t in seen.trees), *places}))

    # While it is typed

    def look(self) -> None:
        """Work out what the rows would bring, and show it on the map and beside the rows."""
        seen = self._desk.seen
        typed = self.sheet.typed()
        rows = [(row, sight) for row, sight, _ in typed if sight is not None]
        for row, sight, _ in typed:
            if sight is None:
                row.say_met("")
                row.say("")
        self._looks += 1
        look = self._looks
        if seen is None or seen.frame is None or not rows:
            self.overlay = None
            self._set_map()
            return
        stand, today, frame = seen.stand, self._desk.today, seen.frame
        sights = [sight for _, sight in rows]

        def looked(found: Looked) -> None:
            if self._looks != look or self._desk.seen is not seen:
                return
            self.overlay = SightOverlay(found, frame, self._desk.settings.text_size_percent / 100)
            for (row, _), taken in zip(rows, found.taken, strict=True):
                self._tell_row(row, taken)
            self.sheet.tell()
            self._set_map()
            self._keep_in_sight()

        self._desk.compute(lambda _: look_at_sights(stand, (), sights, today), "", while_there(self.sheet, looked))

    def _tell_row(self, row: SightRow, taken: TakenSight) -> None:
        wrong = taken.fate in (Fate.DOUBTFUL, Fate.REFUSED)
        row.refused = taken.fate is Fate.REFUSED
        row.say(said(taken.why) if wrong else "")
        row.say_met("" if taken.closing is None else closing_words(taken.closing, units_of(self._desk)))

    def _keep_in_sight(self) -> None:
        """Move the map only where a new point would lie outside it."""
        if self.overlay is None or self.sheet.isHidden() or not len(self.overlay.new_points):
            return
        places = self.overlay.new_points
        px = self._canvas.camera.to_screen(places)
        left, top, right, bottom = self._canvas.margins
        size = self._canvas.size()
        inside = (px[:, 0] > left) & (px[:, 0] < size.width() - right)
        inside &= (px[:, 1] > top) & (px[:, 1] < size.height() - bottom)
        if not bool(np.all(inside)):
            bring_into_sight(self._canvas, places)

    # Kept

    def keep(self) -> None:
        """Write all rows as one edit."""
        sights = self.sheet.sights()
        if not sights:
            return
        today, now, sure = self._desk.today, self._desk.now(), self.sheet.sure.isChecked()
        goes_on = sights[-1].to_name
        written = [row.texts for row in self.sheet.rows]

        def kept(looked: Looked) -> None:
            self._desk.tell(tr_n("{n} sight is kept", "{n} sights are kept", len(looked.taken)))
            if [row.texts for row in self.sheet.rows] == written:
                self.sheet.begin_anew(goes_on)
                self.overlay = None
                self._set_map()

        def refused(error: Exception) -> None:
            self._desk.notice.emit("caution" if isinstance(error, DoubtfulSightError) else "error", wording(error))
            if isinstance(error, DoubtfulSightError):
                self.sheet.ask_whether_sure()

        self._guard.once(
            "keep sights",
            lambda file, watch: add_sights(file, sights, today, now, anyway=sure, messages=watch),
            tr("keeping sights"),
            while_there(self.sheet, kept),
            while_there(self.sheet, refused),
        )


def closing_words(closing: Closing, units: UnitsShown) -> str:
    """Return how a row meets what is known: "closes within 0.4 m over 63 m"."""
    off = units.accuracy(closing.off_m).removeprefix("± ")
    if closing.over_m > 0:
        return tr("closes {off} off over {length}", off=off, length=units.distance(closing.over_m))
    return tr("closes {off} off", off=off)
