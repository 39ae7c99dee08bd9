"""Keys: each means one thing on a page, and the window hears it wherever the focus is."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtGui import QKeySequence

from tests.desktop.whole.whole_window import Whole


@pytest.mark.parametrize("page", ["survey", "choose", "collect", "aftercare"])
def test_no_key_means_two_things_on_one_page(page: str, begin: Callable[..., Whole], alder_brook: Path) -> None:
    whole = begin(alder_brook)
    meant: dict[str, list[str]] = defaultdict(list)
    for action in whole.window.actions_list:
        if action.page in (None, page):
            for key in action.keys.split("; ") if action.keys else []:
                written = QKeySequence(key).toString()
                assert written, f"{action.id}: '{key}' is no key"
                meant[written].append(action.id)
    assert len(meant) > 20
    assert {key: ids for key, ids in meant.items() if len(ids) > 1} == {}
