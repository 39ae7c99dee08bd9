"""A report of our own mistake that holds nothing of the person's: no data of the stand, no path, no value.

It names versions, kinds of errors and places in the code. The text of an error is left out, since it may quote what a
person typed; only a `BugError` is quoted, without the name of the file that it begins with.
"""

from __future__ import annotations

import os
import platform
import re
import sys
import tempfile
import threading
import traceback
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path, PurePath
from types import TracebackType

from standmap import __version__
from standmap.errors import BugError
from standmap.jobs.own_folders import log_folder

KEPT = 20
"""Reports kept; the oldest go."""

PREFIX = "report-"
_LIBRARIES = ("numpy", "shapely", "pyproj", "scipy", "pyvrp", "highspy", "rasterio", "PySide6")


def report_text(error: BaseException) -> str:
    """Return the report about an error."""
    lines = [
        f"standmap {__version__}",
        f"Python {platform.python_version()}, {platform.system()} {platform.machine()}",
        ", ".join(_loaded()) or "no library loaded",
        "",
    ]
    for number, link in enumerate(_chain(error)):
        lines += ["which followed from"] if number else []
        lines.append(_told(link))
        lines += [f"  {place}" for place in _places(link.__traceback__)]
    return "\n".join(lines) + "\n"


def write_report(error: BaseException, at: datetime | None = None) -> Path:
    """Keep a report and return where it is: in the folder of reports, else in the one for passing files."""
    text = report_text(error)
    name = f"{PREFIX}{(at or datetime.now(UTC)).astimezone(UTC):%Y%m%dT%H%M%S%f}Z-"
    folder = log_folder()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        handle, path = tempfile.mkstemp(prefix=name, suffix=".txt", dir=folder)
    except OSError:
        handle, path = tempfile.mkstemp(prefix=f"standmap-{name}", suffix=".txt")
    with os.fdopen(handle, "w", encoding="utf-8") as file:
        file.write(text)
    _drop_oldest(folder, Path(path))
    return Path(path)


def watch_for_faults(broke: Callable[[BaseException], None]) -> None:
    """Have every error that nobody caught, in any thread, handed to `broke`."""

    def of_this_thread(_kind: type[BaseException], error: BaseException, _trace: TracebackType | None) -> None:
        if not isinstance(error, KeyboardInterrupt | SystemExit):
            broke(error)

    def of_another_thread(arguments: threading.ExceptHookArgs) -> None:
        if arguments.exc_value is not None and not isinstance(arguments.exc_value, SystemExit):
            broke(arguments.exc_value)

    sys.excepthook = of_this_thread
    threading.excepthook = of_another_thread


def _loaded() -> Iterator[str]:
    for name in _LIBRARIES:
        version = getattr(sys.modules.get(name), "__version__", None)
        if isinstance(version, str):
            yield f"{name} {version}"


def _chain(error: BaseException) -> Iterator[BaseException]:
    link: BaseException | None = error
    met: set[int] = set()
    while link is not None and id(link) not in met:
        met.add(id(link))
        yield link
        link = link.__cause__ or (None if link.__suppress_context__ else link.__context__)


def _told(error: BaseException) -> str:
    kind = f"{type(error).__module__}.{type(error).__qualname__}".removeprefix("builtins.")
    return f"{kind}: {_without_data(str(error))}" if isinstance(error, BugError) else kind


def _without_data(text: str) -> str:
    """Return the text of an error of ours without names of files, quoted words and keys."""
    text = re.sub(r"^.*?\.gpkg\b", "(a stand)", text, flags=re.DOTALL)
    text = re.sub(r"'[^']*'|\"[^\"]*\"", "'...'", text)
    text = re.sub(r"\S*[/\\]\S*", "(a path)", text)
    text = re.sub(r"\b[0-9A-Za-z-]{20,}\b", "(a key)", text)
    return " ".join(text.split())[:300]


def _places(trace: TracebackType | None) -> Iterator[str]:
    for frame, line in traceback.walk_tb(trace):
        code = frame.f_code
        yield f"{_relative(code.co_filename)}:{line} in {code.co_name}"


def _relative(filename: str) -> str:
    """Return a file name from the package on: what lies before is the person's."""
    parts = PurePath(filename.replace("\\", "/")).parts
    for mark, kept in (("site-packages", 1), ("dist-packages", 1), ("standmap", 0)):
        if mark in parts:
            last = len(parts) - 1 - parts[::-1].index(mark)
            if last + kept < len(parts):
                return "/".join(parts[last + kept :])
    return parts[-1] if parts else "(unknown)"


def _drop_oldest(folder: Path, new: Path) -> None:
    """Drop what is past the number kept; never the new one, whose name may come first among those of one moment."""
    with suppress(OSError):
        others = sorted(path for path in folder.glob(f"{PREFIX}*.txt") if path.name != new.name)
        for old in others[: max(0, len(others) + 1 - KEPT)]:
            old.unlink(missing_ok=True)
