"""Every language that ships says all that the window and the jobs say, and no more than that."""

from __future__ import annotations

import re
import string
import tomllib
from collections.abc import Callable, Iterator
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import pytest

from standmap.assets import resource
from standmap.desktop.words import SENTENCES, Catalogue, catalogue, languages
from standmap.errors import NothingToDo, UserError
from standmap.formats.geojson import read_geojson
from standmap.jobs.aftercare import aftercare, cautions_for
from standmap.jobs.bring import BringOptions, bring
from standmap.jobs.correct import merge, retag
from standmap.jobs.judge import judge
from standmap.jobs.mark import mark_trees
from standmap.jobs.opening import new_stand, open_stand
from standmap.jobs.readiness import readiness
from standmap.jobs.round import plan_round
from standmap.jobs.round_options import RoundOptions
from standmap.jobs.rule_choice import rules_of
from standmap.jobs.typed_position import typed_position
from standmap.messages import Collected
from standmap.rules.ruleset import available, load
from standmap.settings import SCHEMA, Settings
from standmap.stand.snapshot import Stand
from standmap.store.stand_file import StandFile
from standmap.units_shown import UnitsShown
from tests.desktop.texts_in_code import sentence_templates, window_texts

NOW = datetime(2026, 3, 28, 7, 30, tzinfo=UTC)
DAY = NOW.date()
OTHERS = sorted(set(languages()) - {"en"})
ENGLISH = re.compile(
    r"\b(the|is|are|of|and|not|it|has|for|from|with|no|than|or|tree|trees|hole|holes|season|tapped|years|area)\b"
)


@pytest.fixture(scope="module")
def in_code() -> dict[str, dict[str, str]]:
    return {"texts": window_texts(), "sentences": sentence_templates()}


def _held(language: str) -> dict[str, Any]:
    return tomllib.loads(resource("languages", f"{language}.toml").read_text(encoding="utf-8"))


def _placeholders(text: str) -> list[str]:
    return sorted(name for _, name, _, _ in string.Formatter().parse(text) if name is not None)


def test_a_second_language_ships_whole() -> None:
    assert "de" in OTHERS
    assert languages()["de"] == "Deutsch"
    assert catalogue("en") is None


@pytest.mark.parametrize("language", OTHERS)
@pytest.mark.parametrize("table", ["texts", "sentences"])
def test_every_text_in_the_code_is_translated_and_no_other(
    language: str, table: str, in_code: dict[str, dict[str, str]]
) -> None:
    held, wanted = _held(language)[table], in_code[table]
    lacking = [f"{where}: {text}" for text, where in wanted.items() if text not in held]
    assert lacking == []
    assert [text for text in held if text not in wanted] == []
    assert [text for text, other in held.items() if not other.strip()] == []


@pytest.mark.parametrize("language", OTHERS)
def test_placeholders_are_those_of_the_english(language: str) -> None:
    held = _held(language)
    for text, other in held["texts"].items():
        assert set(_placeholders(other)) == set(_placeholders(text)), text
    for text, other in held["sentences"].items():
        assert set(_placeholders(other)) <= set(_placeholders(text)), text


@pytest.mark.parametrize("language", OTHERS)
def test_every_translation_formats_and_holds_no_slip_of_the_space_bar(language: str) -> None:
    held = _held(language)
    for text, other in (pair for table in ("texts", "sentences") for pair in held[table].items()):
        said = other.format(**dict.fromkeys(_placeholders(other), "x"))
        assert said == said.strip(" ") or text != text.strip(" "), text
        assert "  " not in said or "  " in text, text


def _sentences(catalogue_: Catalogue) -> Callable[[str], str]:
    return lambda text: catalogue_.translate(SENTENCES, text)


@pytest.fixture(params=OTHERS)
def told(request: pytest.FixtureRequest) -> Callable[[str], str]:
    found = catalogue(request.param)
    assert found is not None
    return _sentences(found)


def _has_english(text: str) -> bool:
    """Return whether English is left, quotations (names, words of a file, commands) aside."""
    return ENGLISH.search(re.sub(r"'[^']*'|„[^“]*“|\b\w+_\w+\b", "", text)) is not None


@pytest.fixture
def wood(alder_brook: Path) -> Iterator[Stand]:
    with open_stand(alder_brook) as file:
        yield file.stand()


@pytest.mark.parametrize("rule_set", available())
def test_reasons_and_cautions_of_the_sample_wood(told: Callable[[str], str], wood: Stand, rule_set: str) -> None:
    said: set[str] = set()
    for _, judged in judge(wood, 2026, rule_set_id=rule_set).trees:
        said |= {r.text for r in judged.reasons} | set(judged.cautions)
    assert len(said) > 20
    left = {text: told(text) for text in said if told(text) == text or _has_english(told(text))}
    assert left == {}


def test_what_would_make_each_tree_of_the_sample_wood_ready(told: Callable[[str], str], wood: Stand) -> None:
    rules = rules_of(wood)
    said = {answer.text for tree in wood.present for answer in readiness(wood, tree, 2026, rules)}
    assert len(said) > 5
    assert [text for text in said if told(text) == text or _has_english(told(text))] == []


@pytest.mark.parametrize("day", [DAY, date(2025, 4, 30), date(2025, 9, 20), date(2019, 1, 1)])
def test_aftercare_of_the_sample_wood(told: Callable[[str], str], wood: Stand, day: date) -> None:
    care = aftercare(wood, day, later=True)
    said = {one.need.why for one in care.due} | set(cautions_for(care)) | {care.why_nothing} - {""}
    assert [text for text in said if told(text) == text or _has_english(told(text))] == []


@pytest.mark.parametrize("rule_set", available())
def test_rule_sets_are_told_whole(told: Callable[[str], str], rule_set: str) -> None:
    rules = load(rule_set, {"return_after_years": max(load(rule_set).return_after_years, 3)})
    for text in (rules.about, *rules.notes, *rules.cautions):
        assert told(text) != text
    assert told(rules.figure("return_after_years").source) != rules.figure("return_after_years").source


def test_settings_are_told_whole(told: Callable[[str], str]) -> None:
    for setting in SCHEMA:
        for text in (setting.title, setting.help, setting.group):
            assert told(text) != text


def _wrong_setting(_: StandFile) -> None:
    Settings(collectors=99)


def _wrong_gallon(_: StandFile) -> None:
    UnitsShown().read_volume("3 gal")


def _wrong_position(_: StandFile) -> None:
    typed_position("62.6")


def _same_name(file: StandFile) -> None:
    retag(file, "B01", "B02", DAY, NOW)


def _into_itself(file: StandFile) -> None:
    merge(file, "B01", "B01", DAY, NOW)


def _a_folder(file: StandFile) -> None:
    bring(file, [file.path.parent], BringOptions(), NOW)


def _not_geojson(file: StandFile) -> None:
    path = file.path.with_name("odd.geojson")
    path.write_text('{"type": "Topology"}')
    read_geojson(path)


def _no_stand(file: StandFile) -> None:
    path = file.path.with_name("odd.gpkg")
    path.write_text("no database")
    with open_stand(path):
        pass


def _over_again(file: StandFile) -> None:
    new_stand(file.path)


def _nothing_open(file: StandFile) -> None:
    plan_round(file.stand(), date(2019, 3, 1), RoundOptions())


@pytest.mark.parametrize(
    "slip",
    [
        _wrong_setting,
        _wrong_gallon,
        _wrong_position,
        _same_name,
        _into_itself,
        _a_folder,
        _not_geojson,
        _no_stand,
        _over_again,
        _nothing_open,
    ],
)
def test_slips_are_told(told: Callable[[str], str], alder_brook: Path, slip: Callable[[StandFile], object]) -> None:
    with open_stand(alder_brook) as file, pytest.raises((UserError, NothingToDo)) as caught:
        slip(file)
    error = caught.value
    for text in (error.what, error.remedy) if isinstance(error, UserError) else (str(error),):
        assert not text or (told(text) != text and not _has_english(told(text))), (text, told(text))


def test_labels_and_cautions_of_a_mark(told: Callable[[str], str], alder_brook: Path) -> None:
    messages = Collected()
    with open_stand(alder_brook) as file:
        mark_trees(file, ["B02", "B03"], 2026, NOW, messages=messages)
        label = file.history()[-1].label
    assert messages.cautions
    for text in (label, *messages.cautions):
        assert told(text) != text
        assert not _has_english(told(text)), told(text)


def test_what_nobody_wrote_stays_as_it_is(told: Callable[[str], str]) -> None:
    assert told("quite another thing, as such: x") == "quite another thing, as such: x"


@pytest.mark.usefixtures("qtbot")
def test_parts_of_qt_speak_the_language_too() -> None:
    german = catalogue("de")
    assert german is not None
    assert german.translate("QPlatformTheme", "Cancel") == "Abbrechen"
    assert german.translate("QPlatformTheme", "no such text") == "no such text"
