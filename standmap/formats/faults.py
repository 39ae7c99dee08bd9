"""How the readers of this room say no: to a whole file, or to one feature of it."""

from __future__ import annotations

from pathlib import Path
from unicodedata import category

from standmap.errors import UserError
from standmap.progress import Progress


def _printable(text: str) -> str:
    """Return text with wide and unbroken spaces as plain ones, and a sign in place of what cannot be printed."""
    return "".join(c if c.isprintable() else " " if category(c) == "Zs" else "\ufffd" for c in text)


class Unusable(Exception):  # noqa: N818 - the reason why one feature is left out, not a failure of the whole
    """One row or feature cannot be used; the text says why."""


def called(path: Path) -> str:
    """Return the file's name as one printable line."""
    return _printable(path.name or str(path))


def shown(text: str, most: int = 40) -> str:
    """Return a piece of somebody's text, short and printable, to quote in a message."""
    clean = _printable(text)
    return clean if len(clean) <= most else clean[: most - 1] + "…"


def refused(path: Path, what: str, remedy: str = "", *, where: str = "") -> UserError:
    """Return the error that refuses a file: its name first, then where in it, then what was wrong."""
    place = f"{called(path)}, {where}" if where else called(path)
    return UserError(f"{place}: {what}", remedy)


def unreadable(path: Path, error: OSError) -> UserError:
    """Return the error for a file that the disk will not give."""
    return refused(path, f"cannot be read ({error.strerror or type(error).__name__})", "check its name and its rights")


def go_on(path: Path, progress: Progress, done: float, total: float) -> None:
    """Report progress, and stop if that is wanted.

    Raises
    ------
    UserError
        If the person asked to stop.
    """
    progress.at(done, total, f"reading {called(path)}")
    if progress.stop_wanted():
        raise refused(path, "reading was stopped", "nothing was changed")


def within(path: Path, most_bytes: int, remedy: str) -> int:
    """Return the size of a file in bytes, once it is known to be no larger than allowed.

    Raises
    ------
    UserError
        If the file is missing, is not a plain file, is empty or is too large.
    """
    try:
        size = path.stat().st_size
        plain = path.is_file()
        folder = path.is_dir()
    except FileNotFoundError:
        raise refused(path, "there is no such file", "check the name and the folder") from None
    except OSError as error:
        raise unreadable(path, error) from None
    except ValueError:
        raise refused(path, "this is no file name", "check the name and the folder") from None
    if folder:
        raise refused(path, "is a folder, not a file", "name the files in it one by one")
    if not plain:
        raise refused(path, "is not a plain file", "copy its content into a file first")
    if size == 0:
        raise refused(path, "is empty", "export or copy it again")
    if size > most_bytes:
        raise refused(path, f"is {size / 1e6:.1f} MB, and at most {most_bytes / 1e6:.0f} MB can be read", remedy)
    return size
