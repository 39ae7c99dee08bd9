"""Pictures of the real window, each page with something on it: for the README, and for a machine without a screen.

`python -m standmap.desktop.portraits FILE --out DIR` opens a window on a stand, walks through its pages, writes PNGs.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory

from PySide6.QtCore import QEventLoop
from PySide6.QtWidgets import QWidget

from standmap.assets import sample_stand
from standmap.desktop.desk import Desk
from standmap.desktop.pages.collect.page import CollectPage
from standmap.desktop.pages.survey.page import SurveyPage
from standmap.desktop.start import Shell, application
from standmap.desktop.window import Window
from standmap.errors import UserError
from standmap.jobs.opening import new_stand
from standmap.jobs.sample_wood import SURVEYED, SURVEYED_WOOD
from standmap.rules.columns import CODES
from standmap.rules.judgement import Verdict
from standmap.settings import Settings

SIZE = (1280, 800)
TALL_PX = 1150
PATIENCE_S = 60.0
QUIET_S = 0.8
"""A picture is taken once nothing has been at work for so long: then the sharp map is there."""


def settle(window: Window, until: Callable[[], bool] = lambda: True) -> None:
    """Let the window work until it rests and `until` holds.

    Raises
    ------
    UserError
        If it does not come to rest.
    """
    app = application()
    begun = quiet_since = time.monotonic()
    while True:
        app.processEvents(QEventLoop.ProcessEventsFlag.AllEvents, 20)
        time.sleep(0.005)
        now = time.monotonic()
        if window.desk.busy or not until():
            quiet_since = now
        if now - quiet_since > QUIET_S:
            return
        if now - begun > PATIENCE_S:
            raise UserError("the window did not come to rest", "try again on a quieter machine")


def take(
    stand: Path | None,
    brought: Sequence[Path],
    folder: Path,
    looks: tuple[str, ...] = ("light", "dark"),
    surveyed: Sequence[Path] = (),
) -> list[Path]:
    """Write the pictures of a stand's window.

    Parameters
    ----------
    stand
        Opened for every page; None for the empty start alone.
    brought
        Files whose review is shown on the survey page of a new stand; nothing of them is stored.
    looks
        The first is used for every page, the others for the choose and collect pages.
    surveyed
        Files of a survey, stored in a new stand; its adjustment is shown on the survey page and not accepted.

    Returns
    -------
    list of Path
        The files written.
    """
    app = application()
    folder.mkdir(parents=True, exist_ok=True)
    made: list[Path] = []

    def save(widget: QWidget, name: str) -> None:
        path = folder / f"{name}.png"
        if not widget.grab().save(str(path)):
            raise UserError(f"{path}: cannot be written", "name another folder")
        made.append(path)

    shell = Shell(app, replace(Settings(), look=looks[0], language="en"), keep=False)
    shell.window.resize(*SIZE)
    shell.show()
    settle(shell.window)
    save(shell.window, "start")
    if stand is None:
        return made
    if brought:
        with TemporaryDirectory() as scratch:
            fresh = Path(scratch) / stand.name
            new_stand(fresh)
            _review(shell, fresh, brought)
            save(shell.window, "survey")
            shell.desk.close_stand()
    if surveyed:
        with TemporaryDirectory() as scratch:
            fresh = Path(scratch) / "north-slope.gpkg"
            new_stand(fresh)
            _adjust(shell, fresh, surveyed)
            save(shell.window, "adjust")
            shell.desk.close_stand()
    for number, look in enumerate(looks):
        if number:
            shell.window.close()
            shell = Shell(app, replace(Settings(), look=look, language="en"), keep=False)
            shell.window.resize(*SIZE)
            shell.show()
        suffix = f"-{look.replace(' ', '-')}" if number else ""
        window, desk = shell.window, shell.desk
        desk.open_stand(stand)
        settle(window, partial(_is_open, desk))
        window.show_page("choose")
        resting = CODES.index(Verdict.RESTING)
        rows = [r for r, code in enumerate(desk.codes) if code == resting]
        if desk.seen is not None and rows:
            desk.choose([desk.seen.trees[rows[0]].key])
        settle(window)
        save(window, f"choose{suffix}")
        if not number:
            window.resize(SIZE[0], TALL_PX)  # so high that the stem and the seasons are in sight
            settle(window)
            save(window.card, "tree-card")
            window.resize(*SIZE)
        desk.choose(())
        settle(window)
        window.canvas.fit(animated=False)
        collect = window.pages["collect"]
        assert isinstance(collect, CollectPage)  # noqa: S101 - the page of that name, for the type checker
        window.show_page("collect")
        settle(window)
        if not number:
            collect.lay(collect.season)
            settle(window, partial(_is_told, collect))
            save(window, "season")
            collect.back_to_walk()
        collect.plan()
        settle(window)
        save(window, f"collect{suffix}")
        if not number:
            window.show_page("aftercare")
            settle(window)
            save(window, "aftercare")
    shell.window.close()
    return made


def _is_open(desk: Desk) -> bool:
    return desk.seen is not None


def _is_told(collect: CollectPage) -> bool:
    return collect.season.answer is not None


def _review(shell: Shell, stand: Path, brought: Sequence[Path]) -> SurveyPage:
    shell.desk.open_stand(stand)
    settle(shell.window, lambda: shell.desk.path == stand and shell.desk.seen is not None)
    survey = shell.window.pages["survey"]
    assert isinstance(survey, SurveyPage)  # noqa: S101 - the page of that name, for the type checker
    shell.window.show_page("survey")
    survey.bring_files(list(brought))
    settle(shell.window, lambda: survey.bringing.review is not None)
    return survey


def _adjust(shell: Shell, stand: Path, surveyed: Sequence[Path]) -> None:
    survey = _review(shell, stand, surveyed)
    survey.bringing.store()
    settle(shell.window, lambda: shell.desk.seen is not None and bool(shell.desk.seen.trees))
    shell.window.area.notices.put_all_away()
    survey.adjusting.begin()
    settle(shell.window, lambda: survey.adjusting.sheet.adjustment is not None)


def main() -> None:
    """Write the pictures that the command line asks for."""
    asked = argparse.ArgumentParser(description="Pictures of the window.")
    asked.add_argument("stand", type=Path)
    asked.add_argument("--bring", type=Path, action="append", default=[])
    asked.add_argument("--out", type=Path, required=True)
    given = asked.parse_args()
    surveyed = [sample_stand(SURVEYED_WOOD, name) for name in SURVEYED]
    take(given.stand, given.bring, given.out, surveyed=surveyed)


if __name__ == "__main__":
    main()
