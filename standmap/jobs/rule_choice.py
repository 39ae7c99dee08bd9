"""Which rule set speaks for a stand, and the figures its people have set."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from standmap.rules.ruleset import RuleSet, load
from standmap.stand.snapshot import Stand
from standmap.store.stand_file import StandFile

RULES_SETTING = "rules"
DEFAULT_RULES = "cautious"


def rules_of(stand: Stand, rule_set_id: str | None = None, overrides: Mapping[str, float] | None = None) -> RuleSet:
    """Return the rule set in force, or another one to ask what it would say.

    Parameters
    ----------
    rule_set_id, overrides
        Put in the place of, or over, what the stand keeps.

    Raises
    ------
    UserError
        If there is no such set or figure, or a figure is out of its bounds.
    """
    kept_id, kept = _kept(stand)
    chosen = rule_set_id or kept_id
    figures = dict(kept) if chosen == kept_id else {}
    figures.update(overrides or {})
    return load(chosen, figures)


def choose_rules(
    file: StandFile, now: datetime, rule_set_id: str | None = None, overrides: Mapping[str, float] | None = None
) -> RuleSet:
    """Keep a rule set and figures for this stand and return the set then in force."""
    stand = file.stand()
    rules = rules_of(stand, rule_set_id, overrides)
    kept_id, kept = _kept(stand)
    figures = {**(kept if rules.id == kept_id else {}), **(overrides or {})}
    with file.writing(f"set the rules to {rules.title}", now) as writing:
        writing.set_setting(RULES_SETTING, {"set": rules.id, "figures": figures})
    return rules


def _kept(stand: Stand) -> tuple[str, dict[str, float]]:
    kept = stand.settings.get(RULES_SETTING)
    if not isinstance(kept, dict):
        return DEFAULT_RULES, {}
    return str(kept.get("set", DEFAULT_RULES)), {str(k): float(v) for k, v in dict(kept.get("figures", {})).items()}
