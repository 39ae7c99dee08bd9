"""Whether a stand lies in a folder that a cloud service syncs, told by names of folders and by files it leaves."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from standmap.messages import Messages

_NAMES = re.compile(
    r"""dropbox([ (].*)? | one\ ?drive([ ].*-.*|[ ]-[ ].*)? | google\ ?drive | googledrive-.* | icloud\ ?drive
    | com~apple~clouddocs | mobile\ documents | cloudstorage | nextcloud | owncloud | pcloud\ ?drive | mega(sync)?
    | synologydrive | proton\ ?drive | box(\ sync)? | seafile | tresorit | sync(thing)? | kdrive | yandex\.?disk""",
    re.IGNORECASE | re.VERBOSE,
)
"""What the folders of services are called; only whole names count."""

_COMMON_WORDS = {"box", "mega", "sync", "seafile", "tresorit"}
"""Names that a folder may have for other reasons: they count only right under a home folder."""

_LEFT_BEHIND = (
    ".dropbox",
    ".dropbox.cache",
    ".stfolder",
    ".stversions",
    ".owncloudsync.log",
    ".nextcloudsync.log",
    ".csync_journal.db",
    ".tmp.drivedownload",
    ".tmp.driveupload",
    ".SynologyWorkingDirectory",
    ".seafile-data",
    ".sync/ID",
)
_PATTERNS_LEFT_BEHIND = (".sync_*.db", "._sync_*.db")


@dataclass(frozen=True, slots=True)
class Synced:
    """A folder that seems to be synced, and the mark by which it was told."""

    folder: Path
    mark: str

    @property
    def caution(self) -> str:
        """What can happen, and what to do."""
        return (
            f"this stand lies in '{self.folder.name}', which a cloud service seems to sync ({self.mark}): a copy may "
            "be taken in the middle of a write, and two machines that write make two stands; keep it in a folder "
            "that is not synced and have backups go to the synced one ('standmap settings backup_folder=...')"
        )


def synced_folder(path: Path, home: Path | None = None) -> Synced | None:
    """Return the folder by which a path seems to be synced, None if nothing says so.

    Parameters
    ----------
    home
        Where the home folder is; the person's own when absent.
    """
    home = (home or Path.home()).resolve()
    # Both as named and as it is: a link may lead into a synced folder or out of it.
    for whole in dict.fromkeys((path.resolve(), path.absolute())):
        for folder in whole.parents:
            mark = _mark_of(folder, home)
            if mark:
                return Synced(folder, mark)
    return None


def warn_if_synced(path: Path, messages: Messages, home: Path | None = None) -> None:
    """Say so when a stand lies in a synced folder."""
    found = synced_folder(path, home)
    if found is not None:
        messages.caution(found.caution)


def _mark_of(folder: Path, home: Path) -> str:
    name = folder.name
    if _NAMES.fullmatch(name) and (name.casefold() not in _COMMON_WORDS or folder.parent == home):
        return f"its name, '{name}'"
    if folder == home or folder == Path(folder.anchor):
        return ""  # a service keeps its own settings in the home folder too
    try:
        for left in _LEFT_BEHIND:
            if (folder / left).exists():
                return f"'{left}' in it"
        for pattern in _PATTERNS_LEFT_BEHIND:
            for found in folder.glob(pattern):
                return f"'{found.name}' in it"
    except OSError:
        pass  # a folder that cannot be looked into says nothing
    return ""
