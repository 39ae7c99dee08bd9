"""Which rule set speaks for a stand, and the figures its people have set."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime

from standmap.errors import UserError
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


def own_figures(stand: Stand) -> dict[str, float]:
    """Return the figures that the stand's people have set in place of those of the set in force."""
    return _kept(stand)[1]


def choose_rules(
    file: StandFile,
    now: datetime,
    rule_set_id: str | None = None,
    overrides: Mapping[str, float] | None = None,
    as_printed: Iterable[str] = (),
) -> RuleSet:
    """Keep a rule set and figures for this stand and return the set then in force.

    Parameters
    ----------
    overrides
        Figures to set; what was set before for the same rule set stays.
    as_printed
        Figures that go back to what the rule set says.

    Raises
    ------
    UserError
        If there is no such set or figure, or a figure is out of its bounds.
    """
    stand = file.stand()
    kept_id, kept = _kept(stand)
    chosen = rule_set_id or kept_id
    figures = {**(kept if chosen == kept_id else {}), **(overrides or {})}
    known = load(chosen).figures
    for name in as_printed:
        if name not in known:
            raise UserError(
                f"the rule set '{chosen}' has no figure '{name[:60]}'", f"its figures are {', '.join(known)}"
            )
        figures.pop(name, None)
    return keep_rules(file, now, chosen, figures)


def keep_rules(file: StandFile, now: datetime, rule_set_id: str, own: Mapping[str, float]) -> RuleSet:
    """Keep a rule set with these own figures and no others, as one edit, and return the set then in force.

    Raises
    ------
    UserError
        If there is no such set or figure, or a figure is out of its bounds.
    """
    rules = load(rule_set_id, own)
    with file.writing(f"set the rules to {rules.title}", now) as writing:
        writing.set_setting(RULES_SETTING, {"set": rules.id, "figures": dict(own)})
    return rules


def _kept(stand: Stand) -> tuple[str, dict[str, float]]:
    kept = stand.settings.get(RULES_SETTING)
    if not isinstance(kept, dict):
        return DEFAULT_RULES, {}
    return str(kept.get("set", DEFAULT_RULES)), {str(k): float(v) for k, v in dict(kept.get("figures", {})).items()}
