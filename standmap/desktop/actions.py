"""Everything that can be done, as data: its keys, and the one list in which it is found."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from PySide6.QtCore import QObject, Qt
from PySide6.QtGui import QAction, QKeySequence
from PySide6.QtWidgets import QWidget


def always() -> bool:
    """Return True: an action that can always be done."""
    return True


@dataclass(frozen=True, slots=True)
class Action:
    """One thing a person can do.

    Attributes
    ----------
    id
        Never shown; unique.
    title
        As the list shows it, in the person's language.
    run
        Does it.
    keys
        As Qt writes them, such as "Ctrl+Z"; empty for none; several are parted by "; ".
    page
        The page it belongs to: running it from elsewhere goes there first. None for everywhere.
    enabled
        Whether it can be done now.
    words
        Other words by which a person may look for it.
    """

    id: str
    title: str
    run: Callable[[], object]
    keys: str = ""
    page: str | None = None
    enabled: Callable[[], bool] = always
    words: str = ""


class Actions(QObject):
    """All actions of a window.

    Parameters
    ----------
    window
        Its shortcuts work wherever the focus is in it.
    show_page
        Goes to a page by its name.
    page
        Returns the name of the page that is shown.
    """

    def __init__(self, window: QWidget, show_page: Callable[[str], None], page: Callable[[], str]) -> None:
        super().__init__(window)
        self._window = window
        self._show_page = show_page
        self._page = page
        self._all: dict[str, Action] = {}
        self._shortcuts: list[tuple[Action, QAction]] = []

    def add(self, actions: Iterable[Action]) -> None:
        """Take in actions and make their keys work; an id that is there already is an error of ours."""
        for action in actions:
            if action.id in self._all:
                raise ValueError(f"two actions are called {action.id}")
            self._all[action.id] = action
            if action.keys:
                shortcut = QAction(action.title, self._window)
                shortcut.setShortcuts([QKeySequence(k) for k in action.keys.split("; ")])
                shortcut.setShortcutContext(Qt.ShortcutContext.WindowShortcut)
                shortcut.triggered.connect(lambda _=False, a=action: a.run() if a.enabled() else None)
                self._window.addAction(shortcut)
                self._shortcuts.append((action, shortcut))
        self.page_shown()

    def __iter__(self) -> Iterator[Action]:
        """Yield them in the order in which they were taken in."""
        return iter(self._all.values())

    def get(self, action_id: str) -> Action:
        """Return an action by its id."""
        return self._all[action_id]

    def run(self, action: Action) -> bool:
        """Do it, on its own page; return whether it could be done."""
        if action.page is not None and action.page != self._page():
            self._show_page(action.page)
        if not action.enabled():
            return False
        action.run()
        return True

    def page_shown(self) -> None:
        """Make the keys of the page that is shown work, and let the others rest: two pages may use the same ones."""
        for action, shortcut in self._shortcuts:
            shortcut.setEnabled(action.page in (None, self._page()))
