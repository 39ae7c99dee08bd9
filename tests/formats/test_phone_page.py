from __future__ import annotations

import base64
import hashlib
import json
import re
from datetime import date
from html.parser import HTMLParser
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standmap.assets import resource
from standmap.formats.phone_page import (
    SCRIPTS,
    PhoneGround,
    PhoneStop,
    PhoneTrip,
    PhoneUnit,
    PhoneWalk,
    page_version,
    phone_page,
)
from standmap.formats.phone_words import PHONE_WORDS
from standmap.survey.frame import true_distance

GATE = (29.0, 62.0)
TREE = (29.002, 62.003)


def walk(name: str = "A1", words: dict[str, str] | None = None, start: tuple[float, float] = GATE) -> PhoneWalk:
    stop = PhoneStop("hole", 1, name, 1, TREE, 3.1, 4.4, (GATE, TREE), todo=((name, name),), cautions=(name,))
    unit = PhoneUnit("L", "l", 1.0, 0.5, 1, 0.0, 60.0, 200.0)
    return PhoneWalk(
        plan_key=name,
        purpose="collecting",
        day=date(2026, 3, 28),
        language="en",
        start=name,
        start_at=start,
        trips=(PhoneTrip(1, 1, name, (stop,), (TREE, GATE)),),
        ground=PhoneGround(streams=((GATE, TREE),)),
        units=dict.fromkeys(("volume", "distance", "height", "depth", "bit"), unit),
        words=words or PHONE_WORDS,
        contact=name,
        notes=(name,),
    )


class Parts(HTMLParser):
    """The inline scripts and styles of a page, its policy, and every address it names."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.inline: list[tuple[str, dict[str, str | None], str]] = [("", {}, "")]
        self.policy = ""
        self.addresses: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        held = dict(attrs)
        self.addresses += [value or "" for name, value in attrs if name in ("src", "href", "action", "data")]
        if held.get("http-equiv") == "Content-Security-Policy":
            self.policy = held["content"] or ""
        self.inline.append((tag, held, ""))

    def handle_endtag(self, tag: str) -> None:  # noqa: ARG002 - what follows belongs to no tag
        self.inline.append(("", {}, ""))

    def handle_data(self, data: str) -> None:
        tag, held, text = self.inline[-1]
        self.inline[-1] = (tag, held, text + data)

    def of(self, tag: str) -> list[tuple[dict[str, str | None], str]]:
        return [(held, text) for one, held, text in self.inline if one == tag]


def data_of(page: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(next(t for held, t in Parts(page).of("script") if held.get("id") == "plan"))
    return found


def test_the_policy_lets_this_script_run_and_nothing_else() -> None:
    parts = Parts(phone_page(walk()))
    policy = dict(part.strip().partition(" ")[::2] for part in parts.policy.split(";"))
    assert policy["default-src"] == "'none'"
    assert set(policy) == {
        "default-src", "script-src", "style-src", "base-uri", "form-action", "require-trusted-types-for",
    }  # fmt: skip
    scripts = [text for held, text in parts.of("script") if "type" not in held]
    styles = [text for _, text in parts.of("style")]
    for name, texts in (("script-src", scripts), ("style-src", styles)):
        assert len(texts) == 1
        digest = base64.b64encode(hashlib.sha256(texts[0].encode()).digest()).decode()
        assert policy[name] == f"'sha256-{digest}'"


def test_the_page_names_no_address() -> None:
    page = phone_page(walk())
    assert Parts(page).addresses == []
    assert re.findall(r"https?://[^\"' ]+", page) == ["http://www.w3.org/2000/svg"]  # a name, never fetched
    assert "@import" not in page
    assert "url(" not in page


def test_nothing_in_the_page_is_placed_as_markup() -> None:
    script = "".join(resource("phone", name).read_text(encoding="utf-8") for name in SCRIPTS)
    assert not re.search(r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(|new Function", script)


def test_every_word_that_the_page_asks_for_is_there_and_no_other() -> None:
    script = "".join(resource("phone", name).read_text(encoding="utf-8") for name in SCRIPTS)
    assert not re.search(
        r"\bword\((?![\"`]|key\b|label\b|one\[0\]|reason\b|entry\.reason|eighths\[|plan\.north|window|plan\.p|told)",
        script,
    )
    unused = [
        name
        for name in PHONE_WORDS
        if f'"{name}"' not in script and not re.match(r"walk_|act_|no_script|true$|magnetic$", name)
    ]
    assert unused == []
    asked = set(re.findall(r"\bword\(\"([^\"]+)\"", script))
    assert asked <= set(PHONE_WORDS)


@pytest.mark.parametrize("key", sorted(PHONE_WORDS))
def test_placeholders_of_the_words_are_plain(key: str) -> None:
    assert "{" not in PHONE_WORDS[key]
    assert not re.search(r"\$(?![a-z])", PHONE_WORDS[key])


@given(st.text(min_size=1))
def test_any_text_comes_through_and_stays_inside_its_script(name: str) -> None:
    page = phone_page(walk(name))
    parts = Parts(page)
    assert len(parts.of("script")) == 2
    assert "\u2028" not in page.partition('id="plan">')[2].partition("</script>")[0]
    data = data_of(page)
    assert (data["plan"], data["start"], data["contact"], data["notes"]) == (name, name, name, [name])
    page.encode("utf-8")  # lone surrogates are escaped, too


def test_a_placeholder_in_a_name_or_a_translation_stays_one() -> None:
    words = {**PHONE_WORDS, "no_script": "{{script}} <b>", "walk_collecting": "{{plan}}"}
    page = phone_page(walk("{{style}}", words))
    assert data_of(page)["start"] == "{{style}}"
    assert '<p class="loud">{{script}} &lt;b&gt;</p>' in page
    assert "<title>{{plan}} 2026-03-28</title>" in page


@pytest.mark.parametrize("start", [GATE, (29.0, -62.0), (179.9995, 10.0), (-70.0, 0.0)])
def test_metres_on_the_page_are_metres_on_the_ground(start: tuple[float, float]) -> None:
    data = data_of(phone_page(walk(start=start)))
    east_per_deg, north_per_deg = data["per_deg"]
    for east_deg, north_deg in ((0.004, 0.0), (0.0, 0.004), (-0.003, 0.002)):
        x, y = east_deg * east_per_deg, north_deg * north_per_deg
        there = ((start[0] + east_deg + 180) % 360 - 180, start[1] + north_deg)
        assert (x * x + y * y) ** 0.5 == pytest.approx(true_distance(start, there), rel=1e-3)


def test_the_edition_of_the_page_follows_its_script() -> None:
    assert re.fullmatch(r"[0-9a-f]{12}", page_version())
    assert data_of(phone_page(walk()))["page"] == page_version()
