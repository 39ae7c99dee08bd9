"""What every part of the window shares: the open stand, the season looked at, what is chosen, and work on the way."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from typing import Any, TypeVar

import numpy as np
from PySide6.QtCore import QLockFile, QObject, QTimer, Signal

from standmap.desktop.holding import identity, locked
from standmap.desktop.look import units_for
from standmap.desktop.seen import Seen, see
from standmap.desktop.theme import LIGHT, Theme
from standmap.desktop.tidying import Tidying
from standmap.desktop.words import said, tr
from standmap.desktop.working import Watch, Work, WorkThread
from standmap.errors import NothingToDo, UserError
from standmap.jobs import clock, taking_back
from standmap.jobs.first_look import rest_passed
from standmap.jobs.opening import check_stand, open_stand
from standmap.jobs.rotation import PlannedRotation
from standmap.jobs.rotation_shown import columns_under
from standmap.jobs.seasons import SEASONS_AHEAD
from standmap.rules.columns import StandColumns, same_columns, verdict_columns
from standmap.rules.ruleset import RuleSet
from standmap.settings import Settings
from standmap.stand.tree import Tree
from standmap.store.stand_file import Event, StandFile
from standmap.units_shown import UnitsShown

Result = TypeVar("Result")
Answer = TypeVar("Answer")

LOOK_AGAIN_MS = 1500
"""How often the file is asked whether another program has written to it."""


class Desk(QObject):
    """The state of one window.

    Attributes
    ----------
    seen
        The open stand, None while none is open or it is still being read.
    season
        The season that the map is coloured for.
    codes, back_in
        Verdicts of the present trees for that season: see `verdict_columns`.
    chosen
        Keys of the chosen trees; the last is the one on the tree card.
    rotation
        The plan of coming seasons that is shown, None where none is.
    columns
        What verdicts rest on: the stand, with what that plan would tap.
    """

    seen_changed = Signal()
    first_look_ready = Signal(object)
    season_changed = Signal()
    rotation_changed = Signal()
    chosen_changed = Signal()
    page_changed = Signal(str)
    settings_changed = Signal()
    work_changed = Signal()
    notice = Signal(str, str)
    broke = Signal(object)
    stand_opened = Signal(Path)

    def __init__(self, settings: Settings, theme: Theme = LIGHT, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.settings = settings
        self.theme = theme
        self.seen: Seen | None = None
        self.season = self.today.year
        self.codes = np.zeros(0, np.uint8)
        self.back_in = np.zeros(0, np.int32)
        self.chosen: tuple[str, ...] = ()
        self.rotation: PlannedRotation | None = None
        self._columns: StandColumns | None = None
        self.path: Path | None = None
        self.works: list[Work[object]] = []
        self._lock: QLockFile | None = None
        self._file: StandFile | None = None  # touched on the file's thread only
        self._file_thread: WorkThread | None = None
        self._others: list[WorkThread] = []
        self._ending: list[WorkThread] = []  # asked to stop, and not yet gone
        self._identity: tuple[int, int] | None = None
        self._version = 0
        self._units: tuple[Settings, UnitsShown] | None = None
        self._poll = QTimer(self)
        self._poll.setInterval(LOOK_AGAIN_MS)
        self._poll.timeout.connect(self._look_again)

    # The day

    @property
    def today(self) -> date:
        """The day it is."""
        return clock.today()

    def now(self) -> datetime:
        """Return the moment, with an offset."""
        return clock.now()

    @property
    def units(self) -> UnitsShown:
        """The person's units."""
        if self._units is None or self._units[0] is not self.settings:
            self._units = (self.settings, units_for(self.settings))
        return self._units[1]

    # The stand

    @property
    def read_only(self) -> bool:
        """Whether nothing can be changed: no stand, or one that is open elsewhere or protected."""
        return self.seen is None or self.seen.read_only

    def open_stand(self, path: Path) -> None:
        """Open a stand in place of the one that is open; a second window on one file opens read-only and says so.

        What is no stand is told, and the one that is open stays.
        """
        path = path.absolute()
        try:
            check_stand(path)
        except UserError as error:
            self.error(error)
            return
        self.close_stand()
        lock, read_only, why = locked(path)
        thread = WorkThread("stand file")
        self._file_thread, self._lock, self.path = thread, lock, path

        def read(_: Watch) -> Seen:
            self._file = open_stand(path, read_only=read_only)
            return self._see(self._file, read_only)

        def opened(seen: Seen) -> None:
            self._identity = identity(path)
            self._show(seen)
            self._poll.start()
            self.stand_opened.emit(path)
            if why:
                self.caution(why)

        def refused(error: Exception) -> None:
            self.close_stand()
            self.error(error)

        self._start(thread, read, tr("reading {name}", name=path.name), opened, refused)

    def close_stand(self) -> None:
        """Close the open stand; what was begun on it is finished first, for an edit is all or nothing."""
        self._poll.stop()
        for other in self._others:
            other.leave()
        self._ending += self._others
        self._others.clear()
        if self._file_thread is not None:
            self._file_thread.close(self._close_file)
        if self._lock is not None:
            self._lock.unlock()
        self._file_thread, self._lock, self.path = None, None, None
        for work in self.works:
            work.running = False
            work.deleteLater()
        if self.works:
            self.works.clear()
            self.work_changed.emit()
        if self.seen is not None:
            self.seen = None
            self.codes, self.back_in = self.codes[:0], self.back_in[:0]
            self.rotation, self._columns = None, None
            self.choose(())
            self.seen_changed.emit()
            Tidying.whole()

    def end(self) -> None:
        """Close the stand and wait until nothing is at work any more."""
        self.close_stand()
        for thread in self._ending:
            thread.close()
        self._ending.clear()

    def _close_file(self) -> None:
        if self._file is not None:
            self._file.close()
        self._file = None

    def _see(self, file: StandFile, read_only: bool) -> Seen:
        at_first = self.first_look_ready.emit if self.seen is None else None
        seen = see(file, self.season, read_only=read_only, at_first=at_first)
        self._version = file.version()
        return seen

    def _show(self, seen: Seen) -> None:
        before, self.seen = self.seen, seen
        dropped = self.rotation is not None and not (
            before is not None and before.rules == seen.rules and same_columns(before.columns, seen.columns)
        )
        if dropped:
            self.rotation, self._columns = None, None
        self._judge()
        # A tree that is gone, as after undo, is let go before anyone is told to look.
        self.chosen = tuple(key for key in self.chosen if key in seen.row_of)
        self.seen_changed.emit()
        self.choose(self.chosen)
        if dropped:
            self.rotation_changed.emit()
            self.tell(tr("the stand has changed: the plan of the coming seasons was put away"))

    def _look_again(self) -> None:
        if self._file_thread is None or not self._file_thread.idle or self.path is None or self.seen is None:
            return
        if identity(self.path) != self._identity:
            # What is open is no longer what lies there: nothing may be written that nobody would find again.
            self._poll.stop()
            self.seen = replace(self.seen, read_only=True)
            self.seen_changed.emit()
            self.caution(tr("the file of this stand was moved, deleted or replaced: open it again where it is now"))
            return

        def look(_: Watch) -> Seen | None:
            assert self._file is not None  # noqa: S101 - open as long as its thread takes work
            if self._file.version() == self._version:
                return None
            return self._see(self._file, self.read_only)

        def looked(seen: Seen | None) -> None:
            if seen is not None:
                self._show(seen)
                self.tell(tr("another program has changed the stand: it was read again"))

        self._start(self._file_thread, look, "", looked, None)

    # Season and choice

    def set_season(self, season: int) -> None:
        """Colour the map for another season."""
        if season != self.season:
            self.season = season
            self._judge()
            self.season_changed.emit()

    @property
    def columns(self) -> StandColumns:
        """What verdicts rest on: the stand, with what the plan that is shown would tap.

        Raises
        ------
        UserError
            If no stand is open.
        """
        if self.seen is None:
            raise UserError("no stand is open", "open or make one first")
        return self.seen.columns if self._columns is None else self._columns

    @property
    def last_season(self) -> int:
        """The last season that is looked at: ten after this one, or the last of the plan that is shown."""
        planned = self.rotation.seasons[-1].season if self.rotation is not None else 0
        return max(self.today.year + SEASONS_AHEAD, planned)

    def show_rotation(self, planned: PlannedRotation | None) -> None:
        """Colour map and year strip as if a plan were kept to; None puts it away."""
        if self.seen is None or planned is self.rotation:
            return
        self.rotation, self._columns = planned, None
        if planned is not None:
            self._columns = columns_under(self.seen.columns, planned)
        if self.season > self.last_season:
            self.season = self.today.year
        self._judge()
        self.rotation_changed.emit()
        self.season_changed.emit()

    def _judge(self) -> None:
        if self.seen is not None:
            self.codes, self.back_in = verdict_columns(self.columns, self.season, self.seen.rules)

    def judged_for(self, season: int, rules: RuleSet) -> np.ndarray[tuple[int], np.dtype[np.uint8]]:
        """Return the verdict codes of the present trees for any season and rules."""
        return verdict_columns(self.seen.columns, season, rules)[0] if self.seen else np.zeros(0, np.uint8)

    @property
    def rest(self) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        """Which part of its rest each resting tree has behind it: see `rest_passed`."""
        return rest_passed(self.codes, self.back_in, self.season, self.seen.rules) if self.seen else np.zeros(0)

    def choose(self, keys: Iterable[str], *, add: bool = False) -> None:
        """Choose trees in place of, or with `add` beside, those chosen; an added one that was chosen is let go."""
        wanted = list(dict.fromkeys(keys))
        if add:
            asked, before = set(wanted), set(self.chosen)
            wanted = [k for k in self.chosen if k not in asked] + [k for k in wanted if k not in before]
        known = self.seen.row_of if self.seen is not None else {}
        chosen = tuple(k for k in wanted if k in known)
        if chosen != self.chosen or not add:
            self.chosen = chosen
            self.chosen_changed.emit()

    @property
    def chosen_tree(self) -> Tree | None:
        """The tree on the card."""
        return self.seen.stand.by_key[self.chosen[-1]] if self.seen is not None and self.chosen else None

    # Work

    def run(
        self,
        work: Callable[[StandFile, Watch], Result],
        what: str,
        then: Callable[[Result], None] | None = None,
        failed: Callable[[Exception], None] | None = None,
    ) -> Work[Any]:
        """Do something with the stand's file, on its own thread, after what was asked before.

        Parameters
        ----------
        work
            Called with the open file; whatever it writes is one transaction of its own.
        then
            Called on the GUI thread with the result, after the stand was read again.
        failed
            Called on the GUI thread with the `UserError` or `NothingToDo`; without it a notice is shown.
        """
        if self._file_thread is None:
            raise UserError("no stand is open", "open or make one first")
        before = self.seen

        def job(watch: Watch) -> tuple[Result, Seen | None]:
            assert self._file is not None  # noqa: S101 - open as long as its thread takes work
            read_only = before.read_only if before is not None else False
            state = (self._file.last_step(), self._file.version())
            result = work(self._file, watch)
            changed = (self._file.last_step(), self._file.version()) != state
            return result, self._see(self._file, read_only) if changed else None

        def done(answer: tuple[Result, Seen | None]) -> None:
            result, seen = answer
            if seen is not None:
                self._show(seen)
            if then is not None:
                then(result)

        return self._start(self._file_thread, job, what, done, failed)

    def compute(
        self,
        work: Callable[[Watch], Result],
        what: str,
        then: Callable[[Result], None] | None = None,
        failed: Callable[[Exception], None] | None = None,
    ) -> Work[Any]:
        """Do long work that does not touch the stand's file, on a thread of its own."""
        self._ending = [t for t in self._ending if t.alive]
        thread = WorkThread(what or "work")
        self._others.append(thread)
        begun = self._start(thread, work, what, then, failed)

        def end() -> None:
            if thread in self._others:
                self._others.remove(thread)
                thread.close()

        begun.ended.connect(end)
        return begun

    def _start(
        self,
        thread: WorkThread,
        job: Callable[[Watch], Answer],
        what: str,
        then: Callable[[Answer], None] | None,
        failed: Callable[[Exception], None] | None,
    ) -> Work[Answer]:
        work: Work[Answer] = Work(what)
        work.said.connect(self._heard)
        if then is not None:
            work.done.connect(then)
        work.failed.connect(lambda error: self._fell(error, failed))
        work.ended.connect(lambda: self._ended(work))  # type: ignore[arg-type]
        if what:
            self.works.append(work)  # type: ignore[arg-type]
            self.work_changed.emit()
        thread.add(work, job)  # type: ignore[arg-type]
        return work

    def _heard(self, kind: str, text: str) -> None:
        self.notice.emit(kind, self.units.in_sentence(said(text)))

    def _fell(self, error: Exception, failed: Callable[[Exception], None] | None) -> None:
        if not isinstance(error, UserError | NothingToDo):
            self.broke.emit(error)
        elif failed is not None:
            failed(error)
        else:
            self.error(error)

    def _ended(self, work: Work[object]) -> None:
        work.running = False
        # Qt holds what its signals call, and so what that holds in turn: the stand as it was when the work began.
        work.deleteLater()
        if work in self.works:
            self.works.remove(work)
            self.work_changed.emit()

    @property
    def busy(self) -> bool:
        """Whether work is running or waiting."""
        return bool(self.works)

    # Undo

    def undo(self) -> None:
        """Take back the latest edit."""
        self._take_back(taking_back.undo, tr("taken back: {what}"))

    def redo(self) -> None:
        """Do again what was taken back last."""
        self._take_back(taking_back.redo, tr("done again: {what}"))

    def _take_back(self, job: Callable[[StandFile, datetime], tuple[Event, ...]], told: str) -> None:
        if self.seen is None:
            return
        now = self.now()
        self.run(
            lambda file, _: job(file, now),
            tr("undo"),
            lambda events: self.tell(told.format(what=said(events[0].label))),
        )

    # Telling

    def tell(self, text: str) -> None:
        """Show a short notice."""
        self.notice.emit("tell", text)

    def caution(self, text: str) -> None:
        """Show a notice that asks for care; it stays until it is put away."""
        self.notice.emit("caution", text)

    def error(self, error: Exception) -> None:
        """Show what went wrong and what to do; it stays until it is put away."""
        self.notice.emit("error", wording(error))


def wording(error: Exception) -> str:
    """Return an error in the person's language: what happened, then what to do."""
    if isinstance(error, UserError):
        what = said(error.what)
        return f"{what}. {_sentence(said(error.remedy))}" if error.remedy else what
    return said(str(error))


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]
