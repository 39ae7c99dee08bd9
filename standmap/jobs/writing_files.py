"""Files for others: each under another name first, then renamed, so that none is ever seen half-written."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path

from standmap.errors import UserError


def check_folder(folder: Path) -> None:
    """Look whether files can be written into a folder, before long work is done for them.

    Raises
    ------
    UserError
        If it, or what it would be made in, is no folder or may not be written.
    """
    there = next(known for known in (folder, *folder.absolute().parents) if os.path.exists(known))  # noqa: PTH110 - never fails
    if not there.is_dir():
        raise UserError(f"{there}: is a file, not a folder", "name another folder")
    if not os.access(there, os.W_OK | os.X_OK):
        raise UserError(f"{there}: nothing can be written here", "check its rights, or name another folder")


def write_files(folder: Path, contents: Mapping[str, bytes], *, replace: bool) -> tuple[Path, ...]:
    """Write files into a folder, which is made if need be; all are complete before the first one appears.

    Raises
    ------
    UserError
        If one is there already and may not be replaced, or the disk refuses.
    """
    paths = tuple(folder / name for name in contents)
    if not replace:
        for path in paths:
            if path.exists():
                raise UserError(f"{path}: the file is there already", "name another folder or give --replace")
    waiting: list[Path] = []
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for path, content in zip(paths, contents.values(), strict=True):
            handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=folder)
            waiting.append(Path(name))
            with os.fdopen(handle, "wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
        for path, fresh in zip(paths, waiting, strict=True):
            fresh.chmod(0o644)
            fresh.replace(path)
    except OSError as error:
        raise UserError(f"{folder}: could not be written ({error.strerror})", "check its rights and the disk") from None
    finally:
        for fresh in waiting:
            with suppress(OSError):
                fresh.unlink(missing_ok=True)
    return paths
