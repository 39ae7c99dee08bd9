"""Which trees may be tapped in a season, and every reason why the others may not."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from standmap.errors import UserError
from standmap.jobs.opening import working_frame
from standmap.jobs.positions import close_trees
from standmap.jobs.rule_choice import rules_of
from standmap.progress import Progress
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Tree

if TYPE_CHECKING:
    from standmap.rules.ruleset import RuleSet
    from standmap.rules.verdicts import Judgement


@dataclass(frozen=True, slots=True)
class StandJudgement:
    """A season's verdicts, one for each tree of the stand and in its order.

    Attributes
    ----------
    counts
        How many trees have each verdict, in the order in which verdicts are decided, those with none included.
    """

    season: int
    rules: RuleSet
    trees: tuple[tuple[Tree, Judgement], ...]
    counts: Mapping[str, int]


def judge(
    stand: Stand,
    season: int,
    *,
    rule_set_id: str | None = None,
    overrides: Mapping[str, float] | None = None,
    progress: Progress | None = None,
) -> StandJudgement:
    """Judge every tree for one season, by the stand's own rules or others.

    Raises
    ------
    UserError
        If the season is no year, there is no such rule set or figure, or a stop was wanted.
    """
    from standmap.rules.verdicts import Verdict, judge_all

    rules = rules_of(stand, rule_set_id, overrides)
    judged = judge_all(stand, season, rules, progress)
    if len(judged) < len(stand.present):
        raise UserError("the judging was stopped", "ask again")
    judged = _asked_about_roots(stand, judged)
    counted = Counter(j.verdict for j in judged)
    counts = {str(v): counted.get(v, 0) for v in Verdict}
    return StandJudgement(season, rules, tuple(zip(stand.present, judged, strict=True)), counts)


def _asked_about_roots(stand: Stand, judged: list[Judgement]) -> list[Judgement]:
    """Add the caution "same rootstock?" to stems that stand very close and of which nobody has said so."""
    frame = working_frame(stand)
    trees = stand.present
    if frame is None or len(trees) < 2:
        return judged
    for a, b, apart in close_trees(frame, trees):
        for one, other in ((a, b), (b, a)):
            asked = f"{apart:.2f} m from {trees[other].name}: same rootstock?"
            judged[one] = replace(judged[one], cautions=(*judged[one].cautions, asked))
    return judged
