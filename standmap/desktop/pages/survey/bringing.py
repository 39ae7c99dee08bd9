"""Files on their way into the stand: read off the GUI thread, looked through on the map, stored when it is said so."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from PySide6.QtCore import QObject, Signal

from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.desk import Desk
from standmap.desktop.guard import guard_of
from standmap.desktop.pages.survey.reading_sheet import ReadingSheet
from standmap.desktop.pages.survey.review_overlay import ReviewOverlay
from standmap.desktop.pages.survey.review_sheet import ReviewSheet
from standmap.desktop.pages.survey.review_state import Review
from standmap.desktop.pages.survey.sight import PickGesture, bring_into_sight
from standmap.desktop.words import tr, tr_n
from standmap.desktop.working import CautionsOf, Watch, Work
from standmap.jobs.bring_report import BringOptions, BringReport
from standmap.jobs.opening import open_stand
from standmap.jobs.review import Decisions, StandChangedError, propose, store
from standmap.messages import Collected

NEAR_PX = 12.0
"""So near to an item a click on the map is meant for it."""

Read = tuple[Review, tuple[str, ...]]


class Bringing(QObject):
    """Joins the reading, the review in the panel and the review on the map.

    Parameters
    ----------
    show_sheet
        Shows a sheet in the panel.
    go_home
        Shows what else there is to do on the page.
    """

    overlay_changed = Signal()

    def __init__(
        self, desk: Desk, canvas: MapCanvas, show_sheet: Callable[[object], None], go_home: Callable[[], None]
    ) -> None:
        super().__init__(desk)
        self._desk = desk
        self._canvas = canvas
        self._show_sheet = show_sheet
        self._go_home = go_home
        self.reading = ReadingSheet()
        self.sheet = ReviewSheet(desk)
        self.overlay: ReviewOverlay | None = None
        self._path: Path | None = None
        self._paths: tuple[Path, ...] = ()
        self._crs: str | None = None
        self._station: str | None = None
        self._work: Work[Read] | None = None
        self.reading.cancel_wanted.connect(self.stop_reading)
        self.reading.again_wanted.connect(self._read_again)
        self.reading.left.connect(self._leave_files)
        self.sheet.looked_at.connect(self._look_at)
        self.sheet.decided.connect(self._canvas.update)
        self.sheet.store_wanted.connect(self.store)
        self.sheet.discard_wanted.connect(self.discard)
        self.picking = PickGesture(self._clicked)

    @property
    def review(self) -> Review | None:
        """The review that waits to be stored."""
        return self.sheet.review

    @property
    def under_way(self) -> bool:
        """Whether files are being read."""
        return self._work is not None

    # Reading

    def bring(self, paths: Sequence[Path]) -> None:
        """Read files and show their review; files of a review that waits are looked through with them."""
        if self._desk.read_only:
            self._desk.caution(tr("this window cannot change the stand: files cannot be brought in"))
            return
        if self._work is not None:
            self._work.cancel()
        self._paths = tuple(dict.fromkeys((*self._paths, *(p.absolute() for p in paths))))
        self._read()

    def _read(self, *, stale: bool = False) -> None:
        desk, path, paths, options = (
            self._desk,
            self._desk.path,
            self._paths,
            BringOptions(self._crs, station=self._station),
        )
        if path is None or desk.seen is None:
            return
        before: Decisions = dict(self.review.decisions) if self.review is not None else {}
        frame, now = desk.seen.frame, desk.now()
        self._path = path

        def work(watch: Watch) -> Read:
            notes = Collected()
            with open_stand(path, read_only=True) as file:
                proposal = propose(file, paths, options, now, notes, watch)
            return Review(proposal, frame or proposal.basis.known.frame, before), (*notes.told, *notes.cautions)

        self.reading.begin(paths)
        self._show_sheet(self.reading)
        begun = desk.compute(
            work, tr("reading files"), lambda read: self._was_read(begun, read, stale), lambda e: self._failed(begun, e)
        )
        begun.progressed.connect(self.reading.progress)
        self._work = begun

    def stop_reading(self) -> None:
        """Stop reading; nothing is lost, for nothing was stored."""
        if self._work is not None:
            self._work.cancel()

    def _was_read(self, work: Work[Read], read: Read, stale: bool) -> None:
        if work is not self._work:
            return  # other files were added meanwhile
        self._work = None
        review, notes = read
        if not review.items and not review.anything:
            for note in notes:
                self._desk.tell(note)
            self._forget()
            return
        self.sheet.show_review(review, notes)
        self._draw()
        self.show()
        if not stale:
            self._fit()

    def _failed(self, work: Work[Read], error: Exception) -> None:
        if work is not self._work:
            return
        stopped = work.stopping
        self._work = None
        if stopped:
            self._leave_files()
        else:
            self.reading.fail(error)

    def _read_again(self, code: int | None) -> None:
        self._crs = None if code is None else f"EPSG:{code}"
        self._station = self.reading.station.text().strip() or None
        self._read()

    def _leave_files(self) -> None:
        """Go back to what there was before the last files were named."""
        if self.review is None:
            self._forget()
        else:
            self._paths = self.review.proposal.paths
            self.show()

    # The review

    def show(self) -> None:
        """Show the review that waits."""
        self._show_sheet(self.sheet)
        self.sheet.list.setFocus()

    def discard(self) -> None:
        """Leave all of it: nothing is stored."""
        self._desk.tell(tr("left: nothing was stored"))
        self._forget()

    def _forget(self) -> None:
        self._paths, self._crs, self._station = (), None, None
        self.reading.station.set_text("")
        self.sheet.forget()
        self.overlay = None
        self.overlay_changed.emit()
        self._go_home()

    def _draw(self) -> None:
        review = self.review
        assert review is not None  # noqa: S101 - drawn when there is one
        self.overlay = ReviewOverlay(review, self._desk.settings.text_size_percent / 100)
        self.overlay.current = self.sheet.current
        self.overlay_changed.emit()

    def _fit(self) -> None:
        if self.overlay is not None:
            extent = self.overlay.extent()
            if len(extent):
                bring_into_sight(self._canvas, extent)

    def _look_at(self, row: int) -> None:
        if self.overlay is None or self.review is None:
            return
        self.overlay.current = row
        place = self.review.xy[row]
        if np.isfinite(place).all():
            self._canvas.centre_on(float(place[0]), float(place[1]))
        self._canvas.update()

    def _clicked(self, at: tuple[float, float], tree_key: str | None) -> None:
        review = self.review
        if review is None or not self.sheet.isVisible():
            return
        row = review.item_at(at, NEAR_PX / self._canvas.camera.px_per_m)
        if row is None and tree_key is not None:
            row = review.item_of_tree(tree_key)
        if row is not None:
            self.sheet.look_at(row)

    # Storing

    def store(self) -> None:
        """Write what was decided, as one step."""
        review = self.review
        if review is None or not review.anything or self._desk.read_only:
            return
        proposal, decisions, now = review.proposal, dict(review.decisions), self._desk.now()
        self.sheet.store.setEnabled(False)
        before = 0 if self._desk.seen is None else len(self._desk.seen.stand.trees)
        guard_of(self._desk).once(
            "store files",
            # What was told is among the notes on the files already.
            lambda file, watch: store(file, proposal, decisions, now, CautionsOf(watch), watch),
            tr("storing what the files bring"),
            lambda report: self._stored(report, before),
            self._not_stored,
        )

    def _stored(self, report: BringReport, trees_before: int) -> None:
        seen = self._desk.seen
        trees = 0 if seen is None else len(seen.stand.trees) - trees_before
        updated, left = sum(s.updated for s in report.sources), sum(len(s.skipped) for s in report.sources)
        days = sum(s.added for s in report.sources if s.format in ("weather", "ghcn"))
        signs = sum(s.added for s in report.sources if s.format == "signs")
        parts = [tr_n("stored {n} new day of weather", "stored {n} new days of weather", days)] if days else []
        parts += [tr_n("stored {n} sign of the season", "stored {n} signs of the season", signs)] if signs else []
        if trees or not (days or signs):
            parts.insert(0, tr_n("stored {n} new tree", "stored {n} new trees", trees))
        parts += [tr_n("{n} item brought up to date", "{n} items brought up to date", updated)] if updated else []
        parts += [tr_n("{n} left out", "{n} left out", left)] if left else []
        self._desk.tell(", ".join(parts))
        self._forget()

    def _not_stored(self, error: Exception) -> None:
        self.sheet.tell()
        if isinstance(error, StandChangedError):
            self._desk.caution(tr("the stand has changed since: look through the files once more, then store"))
            self._read(stale=True)
        else:
            self._desk.error(error)

    def stand_changed(self) -> None:
        """Let a review of another stand go."""
        if self._desk.path != self._path:
            self._path, self._paths, self._crs, self._station = self._desk.path, (), None, None
            self.sheet.forget()
            self.overlay = None
            if self._work is not None:
                self._work.cancel()
                self._work = None
            self._go_home()
        elif self.review is not None:
            self.sheet.tell()
