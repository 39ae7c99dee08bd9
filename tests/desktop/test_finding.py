"""What a few letters find: the very name first, then beginnings, then parts."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from standmap.desktop.finding import Findable, Found, find


def things(*titles: str) -> list[Findable]:
    return [Findable.of(Found("tree", title, title)) for title in titles]


def test_the_very_name_comes_first_then_what_begins_so_then_what_holds_it() -> None:
    found = find("b2", things("XB2", "B21", "old B2", "B2"))
    assert [f.title for f in found] == ["B2", "B21", "old B2", "XB2"]


def test_words_may_be_typed_in_any_order_and_without_accents_of_case() -> None:
    known = [Findable.of(Found("action", "a", "Mark for this season"), "tap choose")]
    assert [f.key for f in find("season MARK", known)] == ["a"]
    assert [f.key for f in find("tap", known)] == ["a"]
    assert find("season rest", known) == []
    assert find("   ", known) == []


@given(st.lists(st.text(min_size=1, max_size=8), max_size=40), st.text(max_size=6))
def test_no_more_than_asked_and_only_what_answers(titles: list[str], text: str) -> None:
    found = find(text, things(*titles), most=5)
    assert len(found) <= 5
    assert all(f.title in titles for f in found)
