"""One tree judged as `judge` judges them all, without judging the others."""

from __future__ import annotations

from dataclasses import replace

from standmap.jobs.opening import working_frame
from standmap.jobs.positions import close_trees
from standmap.rules.ground import GroundContext
from standmap.rules.judgement import Judgement
from standmap.rules.ruleset import RuleSet
from standmap.rules.verdicts import judge_tree
from standmap.stand.snapshot import Stand
from standmap.stand.tree import Tree

NEAR_DEG = 2e-5
"""About two metres of latitude: more than the distance within which one asks about a common root."""


def judge_one(stand: Stand, tree: Tree, season: int, rules: RuleSet, context: GroundContext | None = None) -> Judgement:
    """Judge one tree for one season, the question about a common rootstock included.

    Parameters
    ----------
    context
        The ground, prepared for this stand, season and rule set; made here when absent.

    Raises
    ------
    UserError
        If the season is no year.
    """
    judged = judge_tree(stand, tree, season, rules, context)
    frame = working_frame(stand)
    # Meridians draw together towards the poles, so only the latitude is narrowed here.
    around = [t for t in stand.present if abs(t.at[1] - tree.at[1]) <= NEAR_DEG]
    if frame is None or len(around) < 2:
        return judged
    asked = []
    for a, b, apart in close_trees(frame, around):
        for one, other in ((a, b), (b, a)):
            if around[one].key == tree.key:
                asked.append(f"{apart:.2f} m from {around[other].name}: same rootstock?")
    return replace(judged, cautions=(*judged.cautions, *asked))
