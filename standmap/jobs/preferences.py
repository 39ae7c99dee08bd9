"""A person's settings on disk; and apart from them what may be lost: window places, stands opened lately."""

from __future__ import annotations

import json
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from standmap.errors import UserError
from standmap.jobs.own_folders import config_folder
from standmap.jobs.writing_files import write_files
from standmap.messages import Messages, Silence
from standmap.settings import LONGEST_TEXT, SCHEMA, Settings, kept_of, migrated, setting, settings_of

if TYPE_CHECKING:
    from standmap.jobs.round import RoundOptions

SETTINGS_FILE = "settings.json"
LATELY_FILE = "lately.json"
RECEIVER_FILE = "receiver.json"
UNREADABLE_SUFFIX = ".unreadable"
MOST_RECENT = 12
RECEIVER_WAYS = ("port", "tcp", "replay")
LARGEST_BYTES = 1_000_000


# Settings


def read_settings(messages: Messages | None = None) -> Settings:
    """Return the kept settings; what cannot be used gives way to the default, and is told."""
    messages = messages or Silence()
    try:
        kept = _read(SETTINGS_FILE)
    except UserError as error:
        messages.caution(f"{error}")
        return Settings()
    settings, cautions = settings_of(kept)
    for text in cautions:
        messages.caution(text)
    return settings


def write_settings(settings: Settings) -> None:
    """Keep settings: only those that differ from the defaults; what a newer standmap keeps there stays.

    Raises
    ------
    UserError
        If they cannot be written.
    """
    folder = config_folder()
    try:
        before = migrated(_read(SETTINGS_FILE))
    except UserError:
        before = {}
        with suppress(OSError):  # not ours to throw away
            (folder / SETTINGS_FILE).replace(folder / (SETTINGS_FILE + UNREADABLE_SUFFIX))
    _write(SETTINGS_FILE, kept_of(settings, before))


def changed(settings: Settings, texts: Mapping[str, str]) -> Settings:
    """Return settings with some of them set from texts; an empty text is the default.

    Raises
    ------
    UserError
        If nothing is called so or a value is not allowed.
    """
    values: dict[str, Any] = {name: setting(name).read(text) for name, text in texts.items()}
    if values.get("national_grid_epsg") is not None:
        check_grid(values["national_grid_epsg"])
    return replace(settings, **values)


def check_grid(epsg: int) -> None:
    """Check that a code names a grid on the ground.

    Raises
    ------
    UserError
        If it names nothing, or something else.
    """
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    try:
        found = CRS.from_epsg(epsg)
    except CRSError:
        raise UserError(
            f"national grid: EPSG:{epsg} names nothing", "look up the code of your country's grid"
        ) from None
    if not found.is_projected:
        raise UserError(f"national grid: EPSG:{epsg} ({found.name}) is no grid", "name the code of a projected grid")


def as_texts(settings: Settings) -> dict[str, str]:
    """Return every setting as a text that `changed` takes."""
    return {one.name: one.written(getattr(settings, one.name)) for one in SCHEMA}


def round_options(settings: Settings) -> RoundOptions:
    """Return how a round is to be, as the person has set it."""
    from standmap.jobs.round import RoundOptions

    return RoundOptions(
        capacity_kg=settings.capacity_kg,
        can_kg=settings.can_kg,
        can_l=settings.can_l,
        collectors=settings.collectors,
        vessel_ml=settings.vessel_ml,
        overflow_chance=settings.overflow_percent / 100,
        vessel_kg=settings.vessel_kg,
        swap_vessels=settings.swap_vessels,
        aim=settings.aim,
        margin_min=settings.margin_min,
    )


# What may be lost


@dataclass(frozen=True, slots=True)
class Lately:
    """What was open lately and how; losing it costs nobody more than a click.

    Attributes
    ----------
    recent
        Stands, the last opened first; they need not be there any more.
    window
        Place and size of the window as Qt packs it, base64; empty when unknown.
    views
        By path of a stand, what the map showed: numbers and names that only the window reads.
    """

    recent: tuple[Path, ...] = ()
    window: str = ""
    views: Mapping[str, Any] = field(default_factory=dict)

    @property
    def last(self) -> Path | None:
        """The stand opened last."""
        return self.recent[0] if self.recent else None

    def opened(self, path: Path) -> Lately:
        """Return this with a stand as the one opened last."""
        path = path.absolute()
        recent = (path, *(p for p in self.recent if p != path))[:MOST_RECENT]
        names = {str(p) for p in recent}
        return replace(self, recent=recent, views={k: v for k, v in self.views.items() if k in names})

    def forgotten(self, path: Path) -> Lately:
        """Return this without a stand."""
        return replace(
            self,
            recent=tuple(p for p in self.recent if p != path),
            views={k: v for k, v in self.views.items() if k != str(path)},
        )

    def seen_at(self, path: Path, view: Mapping[str, Any]) -> Lately:
        """Return this with what the map of a stand showed."""
        return replace(self, views={**self.views, str(path.absolute()): dict(view)})


def read_lately() -> Lately:
    """Return what is known of lately; whatever cannot be read is as if it had never been."""
    try:
        kept = _read(LATELY_FILE)
    except UserError:
        return Lately()
    recent, window, views = kept.get("recent"), kept.get("window"), kept.get("views")
    paths = [p for p in recent if isinstance(p, str) and p and "\0" not in p] if isinstance(recent, list) else []
    return Lately(
        recent=tuple(Path(p) for p in paths[:MOST_RECENT]),
        window=window if isinstance(window, str) else "",
        views={k: v for k, v in views.items() if isinstance(v, dict)} if isinstance(views, dict) else {},
    )


def write_lately(lately: Lately) -> None:
    """Keep what may be lost; that it could not be written is no reason to trouble anybody."""
    with suppress(UserError):
        _write(
            LATELY_FILE,
            {"recent": [str(p) for p in lately.recent], "window": lately.window, "views": dict(lately.views)},
        )


def read_last_receiver() -> tuple[str, str]:
    """Return how a receiver was followed last ("port", "tcp" or "replay") and where; empty where unknown."""
    try:
        kept = _read(RECEIVER_FILE)
    except UserError:
        return "", ""
    way, at = kept.get("way"), kept.get("at")
    known = way in RECEIVER_WAYS and isinstance(at, str) and len(at) <= LONGEST_TEXT and at.isprintable()
    return (str(way), str(at)) if known else ("", "")


def write_last_receiver(way: str, at: str) -> None:
    """Keep how a receiver was followed last; that it could not be written is no reason to trouble anybody."""
    with suppress(UserError):
        _write(RECEIVER_FILE, {"way": way, "at": at})


def _read(name: str) -> dict[str, Any]:
    path = config_folder() / name
    try:
        kept = json.loads(path.read_text(encoding="utf-8")) if path.stat().st_size <= LARGEST_BYTES else None
    except FileNotFoundError:
        return {}
    except OSError as error:
        raise UserError(
            f"{path}: cannot be read ({error.strerror})", "the settings are as they were at first"
        ) from None
    except (ValueError, RecursionError):
        kept = None
    if not isinstance(kept, dict):
        raise UserError(f"{path}: this cannot be read as settings", "they are as they were at first")
    return kept


def _write(name: str, kept: Mapping[str, Any]) -> None:
    # In ASCII, so that even a path that is no text in any encoding comes back as it was.
    text = json.dumps(kept, indent=1, allow_nan=False) + "\n"
    write_files(config_folder(), {name: text.encode()}, replace=True)
