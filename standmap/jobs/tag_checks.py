"""Which ready trees could be taken for one that is not, or may be where an undecided stop was made.

Their tags are to be checked before anything is drilled.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from standmap.rules.columns import CODES
from standmap.rules.ground import ground_context
from standmap.rules.judgement import Verdict
from standmap.rules.mistakes import alike_among, stopped_at

if TYPE_CHECKING:
    from standmap.rules.ruleset import RuleSet
    from standmap.stand.snapshot import Stand


def tags_to_check(stand: Stand, season: int, codes: np.ndarray[Any, np.dtype[np.uint8]], rules: RuleSet) -> list[int]:
    """Return the rows of the ready trees that the judging gives the caution "check the tag", ascending.

    Parameters
    ----------
    codes
        Verdicts of the present trees for that season: see `standmap.rules.columns.verdict_columns`.
    """
    ready = codes == CODES.index(Verdict.READY)
    untold = np.fromiter((not t.tag_confirmed for t in stand.present), bool, len(stand.present))
    ground, asked = ground_context(stand, season, rules), np.flatnonzero(ready & untold)
    found = {row for row, _ in alike_among(ground.spots, asked, np.flatnonzero(~ready))}
    return sorted(found.union(row for row, _ in stopped_at(ground, asked)))
