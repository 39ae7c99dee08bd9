"""The report of our own mistake: where it happened and with what, and nothing of the person's."""

from __future__ import annotations

import platform
import sys
import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

import standmap
from standmap.errors import BugError, UserError
from standmap.jobs.crash_report import KEPT, report_text, watch_for_faults, write_report
from standmap.jobs.own_folders import VARIABLE
from standmap.jobs.rule_choice import rules_of

WIDOWS_OAK = "Rowan Hollow, the widow's oak"


@pytest.fixture(autouse=True)
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(VARIABLE, str(tmp_path / "own"))
    return tmp_path / "own"


def fall(_wood: str) -> None:
    try:
        [][len(WIDOWS_OAK)]
    except IndexError as error:
        raise BugError(
            "/home/anna/my wood.gpkg: no row of 'tree' has the key 0193a8f0-aaaa-7bbb-8ccc-0123456789ab"
        ) from error


def caught() -> BugError:
    with pytest.raises(BugError) as info:
        fall(WIDOWS_OAK)
    return info.value


def test_a_report_says_versions_kinds_and_places() -> None:
    text = report_text(caught())
    assert text.startswith(f"standmap {standmap.__version__}\nPython {platform.python_version()}, ")
    assert "standmap.errors.BugError: (a stand): no row of '...' has the key (a key)\n" in text
    assert "which followed from\nIndexError\n" in text
    assert "tests/jobs/test_crash_report.py:" in text or "test_crash_report.py:" in text
    assert " in fall\n" in text


def test_a_report_holds_nothing_of_the_person() -> None:
    text = report_text(caught())
    for secret in ("Rowan", "widow", "anna", "my wood", "0193a8f0", str(Path(__file__).parents[2]), str(Path.home())):
        assert secret not in text


@pytest.mark.parametrize(
    "error", [ValueError(WIDOWS_OAK), KeyError(WIDOWS_OAK), UserError(WIDOWS_OAK, "no"), OSError(2, WIDOWS_OAK)]
)
def test_the_text_of_other_errors_is_left_out(error: Exception) -> None:
    assert "Rowan" not in report_text(error)
    assert type(error).__name__ in report_text(error)


def test_places_begin_at_the_package() -> None:
    with pytest.raises(AttributeError) as info:
        rules_of(None)  # type: ignore[arg-type]
    assert "\n  standmap/jobs/rule_choice.py:" in report_text(info.value)


def test_errors_that_cause_each_other_end() -> None:
    one, other = ValueError(), TypeError()
    one.__cause__, other.__cause__ = other, one
    assert report_text(one).count("which followed from") == 1


def test_reports_are_kept_in_the_folder_of_reports_and_the_oldest_go(own: Path) -> None:
    paths = [write_report(caught()) for _ in range(KEPT + 3)]
    assert paths[-1].parent == own / "log"
    assert paths[-1].read_text(encoding="utf-8") == report_text(caught())
    assert len(list((own / "log").iterdir())) == KEPT


def test_of_reports_of_one_moment_the_new_one_is_never_dropped(own: Path) -> None:
    at = datetime(2026, 3, 28, 6, 0, tzinfo=UTC)
    for _ in range(3 * KEPT):
        assert write_report(caught(), at).exists()
    assert len(list((own / "log").iterdir())) == KEPT


def test_the_oldest_go_first() -> None:
    start = datetime(2026, 3, 28, 6, 0, tzinfo=UTC)
    paths = [write_report(caught(), start + timedelta(microseconds=n)) for n in range(KEPT + 5)]
    assert [path.exists() for path in paths] == [False] * 5 + [True] * KEPT


def test_without_a_folder_a_report_goes_to_the_passing_files(own: Path) -> None:
    own.write_text("a file")
    path = write_report(caught())
    assert path.read_text(encoding="utf-8").startswith("standmap ")
    path.unlink()


def test_errors_of_every_thread_are_handed_on(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "excepthook", sys.excepthook)
    monkeypatch.setattr(threading, "excepthook", threading.excepthook)
    broke: list[BaseException] = []
    watch_for_faults(broke.append)
    thread = threading.Thread(target=fall, args=(WIDOWS_OAK,))
    thread.start()
    thread.join()
    error = caught()
    sys.excepthook(BugError, error, None)
    sys.excepthook(KeyboardInterrupt, KeyboardInterrupt(), None)
    assert [type(b) for b in broke] == [BugError, BugError]
    assert broke[1] is error
