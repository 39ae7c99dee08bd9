"""Everything that can be done on the collect page, as data: keys, and what the find list shows."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING

from standmap.desktop.actions import Action
from standmap.desktop.pages.collect.planning import Stage
from standmap.desktop.words import tr
from standmap.jobs.planned_round import Purpose

if TYPE_CHECKING:
    from standmap.desktop.pages.collect.page import CollectPage

MOST_TRIPS = 9
"""Moving to a trip by its number has an action for so many."""


def collect_actions(page: CollectPage) -> Sequence[Action]:
    """Return what can be done on the page."""
    planning, walk = page.planning, page.walk

    def action(
        name: str, title: str, run: Callable[[], object], keys: str, enabled: Callable[[], bool], words: str = ""
    ) -> Action:
        return Action(f"collect.{name}", title, run, keys, page.name, enabled, words)

    def asking() -> bool:
        return planning.stage is Stage.ASKED

    def searching() -> bool:
        return planning.stage is Stage.SEARCHING

    def resting() -> bool:
        return not searching() and page.desk.seen is not None

    def planned() -> bool:
        return planning.stage is Stage.PLANNED and page.over is None

    def stop_chosen() -> bool:
        return planned() and walk.list.chosen_key is not None

    def by_hand() -> bool:
        return planning.stage is Stage.PLANNED and not planning.is_best

    def is_trip(trip: int) -> bool:
        return stop_chosen() and trip <= len(planning.orders)

    purposes = {
        Purpose.COLLECTING: tr("plan a walk to collect"),
        Purpose.TAPPING: tr("plan a walk to tap"),
        Purpose.CLOSING: tr("plan a walk to close holes"),
    }
    return [
        action(
            "go",
            tr("plan the walk, or store the returns"),
            page.go,
            "Ctrl+Return; Ctrl+Enter",
            lambda: True,
            tr("round collect morning"),
        ),
        *(
            action(f"for_{purpose}", title, partial(page.ask_for, purpose), "", asking, tr("round walk purpose"))
            for purpose, title in purposes.items()
        ),
        action("stop", tr("stop the search and keep the best so far"), page.stop, "", searching),
        action("another", tr("plan another walk"), page.plan_another, "", lambda: not searching()),
        action(
            "tank",
            tr("where would a tank stand best?"),
            page.look_for_tank,
            "",
            lambda: asking() and page.ask.can_plan,
            tr("car candidate place cost"),
        ),
        action(
            "paper", tr("print the walk sheet"), page.save_paper, "Ctrl+Shift+P", planned, tr("pdf paper map print")
        ),
        action("phone", tr("put the walk on a phone"), page.save_phone, "", planned, tr("html page phone")),
        action("files", tr("save the files of the walk"), page.save_files, "Ctrl+S", planned, tr("gpx csv geojson")),
        action("here", tr("plan the rest from where you stand"), page.plan_from_here, "", planned, tr("again rest")),
        action("returns", tr("enter returns"), page.enter_returns, "Ctrl+R", lambda: not searching()),
        action(
            "from_phone",
            tr("take returns from a phone"),
            page.home.take_from_phone,
            "",
            resting,
            tr("file import txt json paste"),
        ),
        action(
            "given",
            tr("walks given out"),
            page.home.show_given,
            "",
            resting,
            tr("open again earlier days history planned"),
        ),
        action(
            "season",
            tr("when to tap"),
            page.ask.season_wanted.emit,
            "",
            resting,
            tr("season begin end weather leaf-out spring warmth"),
        ),
        action(
            "tonight",
            tr("tonight"),
            page.ask.tonight_wanted.emit,
            "",
            resting,
            tr("night run litres vessel overflow warmth how much expected"),
        ),
        action(
            "batches",
            tr("batches of sap"),
            page.ask.batches_wanted.emit,
            "",
            resting,
            tr("brix sugar syrup boil keep fate"),
        ),
        action(
            "batch",
            tr("make a batch of what came home"),
            lambda: page.batches.make(page.ask.chosen_day),
            "",
            resting,
            tr("bring together sap litres"),
        ),
        action(
            "beside",
            tr("hold a recorded track beside the plan"),
            page.show_beside,
            "",
            lambda: planned() or page.over is page.home.given,
            tr("gpx track walked compare"),
        ),
        action("back", tr("back to the walk"), page.back_to_walk, "", lambda: page.over is not None),
        action("list", tr("go to the stops of the walk"), walk.list.setFocus, "Alt+W", planned),
        action("earlier", tr("move the stop earlier"), lambda: walk.step(-1), "", stop_chosen),
        action("later", tr("move the stop later"), lambda: walk.step(1), "", stop_chosen),
        action("first", tr("keep the stop first on its trip"), lambda: walk.pin(True), "", stop_chosen),
        action("last", tr("keep the stop last on its trip"), lambda: walk.pin(False), "", stop_chosen),
        action("turn", tr("turn the map to the way you walk"), page.turn_map, "Alt+T", stop_chosen, tr("heading")),
        action("best", tr("back to the best order"), planning.back_to_best, "", by_hand),
        action("kit", tr("show what to take along"), walk.show_kit, "", planned, tr("kit packing list")),
        *(
            action(
                f"to_trip_{trip + 1}",
                tr("move the stop to trip {n}", n=trip + 1),
                partial(walk.to_trip, trip),
                f"Alt+{trip + 1}",
                partial(is_trip, trip),
            )
            for trip in range(MOST_TRIPS)
        ),
    ]
