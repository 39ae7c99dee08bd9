"""The window: header, map with its sheets, year strip; it joins the parts and holds nothing of its own."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path

from PySide6.QtCore import QByteArray, Qt, Signal
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QVBoxLayout, QWidget

from standmap.desktop.actions import Action, Actions
from standmap.desktop.backdrop.keeper import BackdropKeeper
from standmap.desktop.canvas.canvas import MapCanvas
from standmap.desktop.card.tree_card import TreeCard
from standmap.desktop.desk import Desk
from standmap.desktop.find_field import FindField
from standmap.desktop.finding import Findable, Found
from standmap.desktop.header import Header
from standmap.desktop.kit import keys_text, tab_stops
from standmap.desktop.map_area import MapArea
from standmap.desktop.map_content import MapContent
from standmap.desktop.measuring.tools import MapTools
from standmap.desktop.pages.aftercare.page import AftercarePage
from standmap.desktop.pages.choose.page import ChoosePage
from standmap.desktop.pages.collect.page import CollectPage
from standmap.desktop.pages.page import Page
from standmap.desktop.pages.start.start_page import StartPage
from standmap.desktop.pages.survey.page import SurveyPage
from standmap.desktop.stand_actions import stand_actions
from standmap.desktop.strip.year_strip import YearStrip
from standmap.desktop.theme import HEADER_PX, STRIP_PX, style_sheet
from standmap.desktop.words import said, tr
from standmap.jobs.backdrop import choose_backdrop
from standmap.jobs.first_look import FirstLook
from standmap.jobs.opening import is_stand
from standmap.rules.columns import CODES

STAND_SUFFIX = ".gpkg"
TODAYS_PAGES = ("collect", "aftercare")
"""Pages of the day's work: the map is coloured for this season, whatever other was looked at."""


class Window(QWidget):
    """One window on one stand.

    Attributes
    ----------
    pages
        The four pages by name, in the order of the job.
    """

    closing = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.setObjectName("window")
        self.setWindowTitle("standmap")
        self.setAcceptDrops(True)
        self.setMinimumSize(720, 480)
        self.resize(1280, 800)
        self.desk = desk
        scale = desk.settings.text_size_percent / 100
        self.setStyleSheet(style_sheet(desk.theme, scale))

        self.canvas = MapCanvas(desk.theme)
        self.canvas.set_text_scale(scale)
        self.content = MapContent(desk, self.canvas)
        self.tools = MapTools(desk, self.canvas)
        self.backdrop = BackdropKeeper(desk, self.canvas)
        self.card = TreeCard(desk, self.canvas)
        survey = SurveyPage(desk, self.canvas)
        survey.heights_wanted.connect(lambda: self.backdrop.show_heights(self))
        made: Sequence[Page] = (
            survey,
            ChoosePage(desk, self.canvas),
            CollectPage(desk, self.canvas),
            AftercarePage(desk, self.canvas),
        )
        self.pages = {page.name: page for page in made}
        self.page: Page | None = None
        self._wanted = "choose"
        self.start = StartPage(desk)
        of_stand = stand_actions(self)
        self.find_field = FindField(self, self._findable, self._doable, lambda: desk.theme)
        self.header = Header(desk, made, self.find_field, of_stand)
        self.header.setFixedHeight(round(HEADER_PX * scale))
        self.area = MapArea(desk, self.canvas, self.card, scale)
        self.strip = YearStrip(desk)
        self.strip.setFixedHeight(round(STRIP_PX * scale))
        down = QVBoxLayout(self)
        down.setContentsMargins(0, 0, 0, 0)
        down.setSpacing(0)
        down.addWidget(self.header)
        down.addWidget(self.area, 1)
        down.addWidget(self.strip)

        self.actions_list = Actions(self, self.show_page, lambda: self.page.name if self.page else "")
        self.actions_list.add(self._window_actions())
        self.actions_list.add(of_stand)
        self.actions_list.add(self.card.actions())
        self.actions_list.add(self.content.actions())
        self.actions_list.add(self.tools.actions())
        self.actions_list.add(self.backdrop.actions(self))
        for page in made:
            self.actions_list.add(page.actions())

        self.find_field.picked.connect(self._picked)
        self.find_field.done.connect(self.canvas.setFocus)
        self.header.page_wanted.connect(self.show_page)
        desk.page_changed.connect(self.show_page)
        desk.seen_changed.connect(self._stand_changed)
        desk.chosen_changed.connect(self._chosen_changed)
        desk.settings_changed.connect(self._settings_changed)
        desk.first_look_ready.connect(self._first_look)
        self._stand_changed()

    # Pages

    def show_page(self, name: str) -> None:
        """Go to a page."""
        page = self.pages[name]
        self._wanted = name
        if self.desk.seen is None or page is self.page:
            return
        if self.page is not None:
            self.page.shown = False
            self.page.left()
        self.content.clear_for_page()
        self.page = page
        page.shown = True
        self.area.show_panel(page.panel)
        self.header.show_page(name)
        self.actions_list.page_shown()
        if name in TODAYS_PAGES:
            self.desk.set_season(self.desk.today.year)
        page.entered()

    def _stand_changed(self) -> None:
        is_open = self.desk.seen is not None
        if not is_open:
            if self.page is not None:
                self.page.shown = False
                self.page.left()
                self.content.clear_for_page()
            self.page = None
            self.area.show_panel(None)
            self.area.notices.put_all_away()
            self.area.cover(self.start if self.desk.path is None else None)
        else:
            self.area.cover(None)
            if self.page is None:
                # A new stand begins with its first page: nothing can be chosen before it is plotted.
                self.show_page(self._wanted if self.desk.seen and self.desk.seen.trees else "survey")
        self.strip.setVisible(is_open)
        name = self.desk.path.name if self.desk.path is not None else ""
        self.setWindowTitle(f"{name} · standmap" if name else "standmap")
        self._chosen_changed()

    def _first_look(self, _: FirstLook) -> None:
        self.area.cover(None)

    def _chosen_changed(self) -> None:
        self.area.show_card(bool(self.desk.chosen))

    def _settings_changed(self) -> None:
        self.setStyleSheet(style_sheet(self.desk.theme, self.desk.settings.text_size_percent / 100))
        self.canvas.set_theme(self.desk.theme)

    # Finding

    def _findable(self) -> list[Findable]:
        seen = self.desk.seen
        actions = [Findable.of(self._as_found(a), a.words) for a in self.actions_list if self._can(a)]
        if seen is None:
            return actions
        verdicts = [said(str(verdict)) for verdict in CODES]
        pairs = zip(seen.trees, self.desk.codes, strict=True)
        trees = [Findable.of(Found("tree", t.key, t.name, verdicts[code]), verdicts[code]) for t, code in pairs]
        places = [Findable.of(Found("place", p.key, p.name, tr(str(p.kind)))) for p in seen.stand.places if p.name]
        return [*trees, *places, *actions]

    def _doable(self) -> list[Found]:
        page = self.page.name if self.page is not None else None
        here = [a for a in self.actions_list if a.page == page and page is not None]
        everywhere = [a for a in self.actions_list if a.page is None]
        others = [a for a in self.actions_list if a.page not in (None, page)]
        return [self._as_found(a) for a in (*here, *everywhere, *others) if self._can(a)]

    def _can(self, action: Action) -> bool:
        return action.enabled() and (action.page is None or self.desk.seen is not None)

    @staticmethod
    def _as_found(action: Action) -> Found:
        return Found("action", action.id, action.title, keys_text(action.keys))

    def _picked(self, found: Found) -> None:
        if found.kind == "action":
            self.actions_list.run(self.actions_list.get(found.key))
        elif found.kind == "tree":
            self.desk.choose([found.key])
            self.content.look_at_tree(found.key)
            self.canvas.setFocus()
        else:
            self.content.look_at_place(found.key)
            self.canvas.setFocus()

    def _window_actions(self) -> list[Action]:
        desk = self.desk

        def can_write() -> bool:
            return not desk.read_only

        def undoable() -> bool:
            return can_write() and desk.seen is not None and desk.seen.undo_label is not None

        def redoable() -> bool:
            return can_write() and desk.seen is not None and desk.seen.redo_label is not None

        to_pages = [
            Action(
                f"page.{name}",
                tr("go to {page}", page=page.title),
                partial(self.show_page, name),
                f"Ctrl+{k}",
                enabled=lambda: desk.seen is not None,
            )
            for k, (name, page) in enumerate(self.pages.items(), 1)
        ]
        return [
            Action("undo", tr("undo"), desk.undo, "Ctrl+Z", enabled=undoable, words=tr("take back")),
            Action("redo", tr("redo"), desk.redo, "Ctrl+Shift+Z; Ctrl+Y", enabled=redoable, words=tr("do again")),
            Action("find", tr("find a tree, a place, an action"), self.find_field.begin, "Ctrl+F; F1"),
            *to_pages,
            Action("map.focus", tr("go to the map"), self.canvas.setFocus, "F6"),
            Action("panel.focus", tr("go to the panel"), self._focus_panel, "F7"),
            Action(
                "card.focus",
                tr("go to the tree card"),
                self.area.bring_card,
                "F8",
                enabled=lambda: bool(desk.chosen),
            ),
            Action(
                "strip.focus", tr("go to the years"), self._focus_strip, "F9", enabled=lambda: desk.seen is not None
            ),
            Action("notices.away", tr("put all notices away"), self.area.notices.put_all_away, "Ctrl+Backspace"),
        ]

    def _focus_panel(self) -> None:
        if self.page is not None:
            first = next(iter(tab_stops(self.page.panel, self)), self.page.panel)
            first.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def _focus_strip(self) -> None:
        self.strip.cells.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def focusNextPrevChild(self, following: bool) -> bool:  # noqa: N802 - Qt's name and way
        """Go through the parts from top to bottom, each in reading order, whenever its fields were made."""
        parts: list[QWidget | None] = [self.header, self.page.panel if self.page is not None else None]
        parts += [self.start, self.canvas, self.card, self.strip, self.area.work_line, self.area.notices]
        stops = [w for part in parts if part is not None and part.isVisible() for w in tab_stops(part, self)]
        now = self.focusWidget()
        if not stops:
            return False
        at = stops.index(now) if now in stops else (-1 if following else 0)
        reason = Qt.FocusReason.TabFocusReason if following else Qt.FocusReason.BacktabFocusReason
        stops[(at + (1 if following else -1)) % len(stops)].setFocus(reason)
        return True

    def unfinished(self) -> bool:
        """Return whether something was begun on a page that would be lost with the window."""
        return any(page.unfinished() for page in self.pages.values())

    # Window

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:  # noqa: N802 - Qt's name
        """Take files."""
        if event.mimeData().hasUrls():
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:  # noqa: N802 - Qt's name
        """Open a stand or ask about it, lay tiles under the map, or bring files into the stand that is open."""
        paths = [Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile()]
        event.acceptProposedAction()
        packages = [p for p in paths if p.suffix.lower() == STAND_SUFFIX]
        others = [p for p in paths if p not in packages]
        stands = [p for p in packages if is_stand(p)]
        if stands and self.desk.seen is not None and stands[0].absolute() != self.desk.path:
            self.show_page("survey")
            self._survey().bring_files([*stands, *(p for p in paths if p not in stands)])
        elif stands:
            self.desk.open_stand(stands[0])
            left = [p.name for p in paths if p != stands[0]]
            if left:
                names = ", ".join(left)
                self.desk.tell(tr("one stand is opened at a time; drop these once it is open: {names}", names=names))
        elif packages and self.desk.seen is not None and self.desk.seen.frame is not None:
            # Pictures of the ground come as GeoPackages too.
            picture, now = packages[0], self.desk.now()
            self.desk.run(
                lambda file, _: choose_backdrop(file, picture, now),
                tr("laying {name} under the map", name=picture.name),
            )
        elif packages:
            self.desk.open_stand(packages[0])  # which says what is wrong with it
        elif others and self.desk.seen is not None:
            self.show_page("survey")
            self._survey().bring_files(others)
        elif others:
            self.desk.caution(tr("open or make a stand first: files are brought into it"))

    def _survey(self) -> SurveyPage:
        survey = self.pages["survey"]
        assert isinstance(survey, SurveyPage)  # noqa: S101 - the page of that name, for the type checker
        return survey

    def closeEvent(self, event: QCloseEvent) -> None:  # noqa: N802 - Qt's name
        """Close the stand; there is nothing unsaved to lose."""
        self.closing.emit()
        self.hide()  # an edit that is being written is waited for, but nobody has to watch
        self.desk.end()
        super().closeEvent(event)

    def place(self) -> QByteArray:
        """Return where the window stands, to be kept."""
        return self.saveGeometry()
