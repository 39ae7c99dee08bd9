"""What is due on paper: overdue first, where each wound is, its peg, boxes to tick, a map, in any language and unit."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from standmap.errors import NothingToDo, UserError
from standmap.jobs.aftercare import StandCare, aftercare
from standmap.jobs.care_paper import care_paper
from standmap.jobs.walk_paper import PaperOptions, paper_options
from standmap.settings import Settings
from standmap.stand.ground import Place, PlaceKind
from standmap.stand.snapshot import Stand
from standmap.stand.tapping import Act, Observation, TapHole, Wound
from standmap.stand.tree import Tree
from tests.formats.pdf_reading import pages, sizes_mm, text

DAY = date(2026, 9, 10)


def hole(key: str, made: date, **more: object) -> TapHole:
    there = TapHole(key, f"t{key}", 1, Wound.HOLE, made, height_mm=900.0, side_deg=170.0, depth_mm=20.0, bit_mm=8.0)
    return replace(there, **more)  # type: ignore[arg-type]


def wood() -> Stand:
    """Return a wood with a look due since a week, a plug due today, and a tube that may stay in for four days more."""
    spring, autumn = date(2026, 3, 20), date(2026, 8, 31)
    return Stand(
        trees=tuple(Tree(f"t{k}", f"B{k}", (27.6 + k * 2e-4, 61.9), "Betula pendula") for k in range(1, 5)),
        holes=(hole("1", autumn), hole("2", autumn), hole("3", spring, kind=Wound.SLIT, bit_mm=None)),
        observations=(
            Observation("o", "t2", "2", Act.TAKEN_OUT, DAY),
            Observation("p", "t3", "3", Act.LEFT_OPEN, date(2026, 4, 2)),
        ),
        places=(Place("g", "lower gate", PlaceKind.GATE, (27.6, 61.9)),),
    )


def care() -> StandCare:
    return aftercare(wood(), DAY, later=True)


@pytest.mark.parametrize(("paper", "size"), [("A4", (210.0, 297.0)), ("letter", (215.9, 279.4))])
def test_the_list_in_its_order(paper: str, size: tuple[float, float]) -> None:
    content = care_paper(care(), wood(), "alder wood", PaperOptions(paper=paper))
    assert set(sizes_mm(content)) == {size}
    first, told = " ".join(pages(content)[0].split()), " ".join(text(content).split())
    for wanted in (
        "alder wood: aftercare", "2026-09-10", "3 wounds, 3 trees", "cautious set asks for a plug", "1:",
        "lower gate, 61.900000 N, 27.600000 E", "a tree and its numbers in the list", "another tree", "mind the knife",
        "local rules and licensed practice come before",
    ):  # fmt: skip
        assert wanted in first, wanted
    places = [
        told.index(wanted)
        for wanted in (
            "overdue: 1", "B3", "due today: 1", "B2", "due later: 1", "B1", "pegs: common practice, no source",
            "published rules disagree on plugging",
        )
    ]  # fmt: skip
    assert places == sorted(places)
    for wanted in (
        "9 days late", "slit 1 of 2026", "seen closed", "seen open", "90 cm up, south (170°)", "plug the hole",
        "peg of 10 mm tapering to 7 mm, 35 mm long (1 in 12), for a hole of 8 mm", "take the tube out",
        "Lithuania, state land: plugged afterwards (Lithuanian rules",
    ):  # fmt: skip
        assert wanted in told, wanted


def test_in_the_persons_language_and_units() -> None:
    options = paper_options(replace(Settings(), units="us"), "Letter", "de")
    told = " ".join(text(care_paper(care(), wood(), "Erlenholz", options)).split())
    for wanted in ("Erlenholz: Nachsorge", "überfällig: 1", "heute fällig: 1", "Zapfen von 0,39 in", "35 in hoch"):
        assert wanted in told, wanted
    for english in ("overdue", "aftercare", "take care", "the hole", "due "):
        assert english not in told


def test_the_same_list_is_the_same_file_and_an_empty_one_none() -> None:
    assert care_paper(care(), wood(), "w") == care_paper(care(), wood(), "w")
    with pytest.raises(NothingToDo, match="no hole or slit was made"):
        care_paper(aftercare(Stand(), DAY), Stand(), "w")
    with pytest.raises(UserError, match="no paper"):
        care_paper(care(), wood(), "w", PaperOptions(paper="A9"))


def test_long_names_and_many_wounds_go_on_paper() -> None:
    trees = tuple(Tree(f"t{k}", f"ש\u05dc {'long ' * 12}{k}", (27.6 + k * 1e-5, 61.9)) for k in range(120))
    holes = tuple(replace(hole(str(k), date(2026, 3, 20)), tree_key=f"t{k}") for k in range(120))
    stand = Stand(trees=trees, holes=holes)
    content = care_paper(aftercare(stand, DAY), stand, "wood")
    assert len(pages(content)) > 4
    assert "overdue: 120" in text(content)
