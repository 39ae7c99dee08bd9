"""What a person may set, as data: each setting with its title, help, bounds and default. No file and no window here.

What may be lost without harm (window places, the stands opened lately) is no setting and lives elsewhere.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import Field, dataclass, field, fields
from enum import StrEnum
from pathlib import PurePath
from typing import Any

from standmap.errors import UserError
from standmap.units import decimal_number

FORMAT = 1
"""Number of the layout of kept settings; raised together with a migration step."""

FORMAT_NAME = "format"

Value = str | int | float | bool | None
Kept = dict[str, Any]
Step = Callable[[Kept], Kept]

STEPS: Mapping[int, Step] = {}
"""Step n turns kept settings of layout n into n + 1."""

YES, NO = "yes", "no"
LONGEST_TEXT = 1000


class Kind(StrEnum):
    """What sort of value a setting takes, and so how it is asked for."""

    CHOICE = "choice"
    WHOLE = "whole number"
    NUMBER = "number"
    YES_NO = "yes or no"
    FOLDER = "folder"


@dataclass(frozen=True, slots=True)
class Setting:
    """One thing that may be set.

    Attributes
    ----------
    name
        Of the attribute of `Settings`; carries the unit.
    title, help
        What a person reads.
    group
        Heading under which it is shown.
    choices
        Value to title, for a choice.
    least, most
        Bounds, both allowed, in `unit`.
    optional
        Whether None ("not set") is a value.
    """

    name: str
    title: str
    help: str
    group: str
    kind: Kind
    default: Value
    choices: Mapping[str, str] = field(default_factory=dict)
    least: float = 0.0
    most: float = 0.0
    unit: str = ""
    optional: bool = False

    def checked(self, value: object) -> Value:
        """Return a value of the right type and within bounds.

        Raises
        ------
        UserError
            If it is not; the remedy names what is allowed.
        """
        if value is None and self.optional:
            return None
        match self.kind:
            case Kind.CHOICE:
                good = isinstance(value, str) and value in self.choices
            case Kind.YES_NO:
                good = isinstance(value, bool)
            case Kind.FOLDER:
                good = isinstance(value, str) and (not value or _names_folder(value))
            case Kind.WHOLE:
                good = isinstance(value, int) and not isinstance(value, bool) and self.least <= value <= self.most
            case Kind.NUMBER:
                good = (
                    isinstance(value, int | float) and not isinstance(value, bool) and self.least <= value <= self.most
                )
        if not good or not isinstance(value, str | int | float | None):
            raise UserError(f"{self.title}: {_quoted(value)} cannot be set", f"{self.allowed()}")
        return float(value) if self.kind is Kind.NUMBER and value is not None else value

    def read(self, text: str) -> Value:
        """Return the value that a text stands for; an empty text is the default.

        Raises
        ------
        UserError
            If it stands for none.
        """
        text = text.strip()
        if not text:
            return self.default
        match self.kind:
            case Kind.CHOICE:
                return self.checked(text.casefold())
            case Kind.YES_NO:
                return self.checked({YES: True, NO: False}.get(text.casefold(), text))
            case Kind.FOLDER:
                return self.checked(text)
            case _:
                number = decimal_number(text)
                whole = int(number) if number == number.to_integral_value() and abs(number) < 10**9 else None
                return self.checked(whole if whole is not None else float(number))

    def written(self, value: Value) -> str:
        """Return a value as a text that `read` takes."""
        if value is None:
            return ""
        if isinstance(value, bool):
            return YES if value else NO
        return f"{value:.12g}" if isinstance(value, float) else str(value)

    def allowed(self) -> str:
        """Return in words which values are allowed."""
        match self.kind:
            case Kind.CHOICE:
                return f"choose one of: {', '.join(self.choices)}"
            case Kind.YES_NO:
                return f"choose {YES} or {NO}"
            case Kind.FOLDER:
                return "name a folder by its whole path"
            case _:
                unit = f" {self.unit}" if self.unit else ""
                what = "a whole number from" if self.kind is Kind.WHOLE else "a number from"
                return f"choose {what} {self.least:g} to {self.most:g}{unit}"


def _names_folder(text: str) -> bool:
    whole = PurePath(text).is_absolute() or text.startswith("~")
    return whole and text.isprintable() and len(text) <= LONGEST_TEXT


def _quoted(value: object) -> str:
    return f"'{str(value)[:40]}'"


def _setting(default: Value, group: str, title: str, about: str, kind: Kind, **more: Any) -> Any:
    return field(default=default, metadata={"group": group, "title": title, "help": about, "kind": kind, **more})


def _choice(default: str, group: str, title: str, about: str, choices: Mapping[str, str]) -> Any:
    return _setting(default, group, title, about, Kind.CHOICE, choices=choices)


SHOWN, ON_THE_MAP, ROUNDS, SAFE = "how things are shown", "on the map", "rounds", "kept safe"
MEASURED = "tape and compass"


@dataclass(frozen=True, kw_only=True, slots=True)
class Settings:
    """A person's settings; a value that is not allowed is refused with a `UserError`."""

    units: str = _choice(
        "metric",
        SHOWN,
        "units",
        "inside a stand everything is kept in millimetres and litres, whatever is shown",
        {"metric": "metric", "imperial": "imperial (UK)", "us": "US customary"},
    )
    look: str = _choice(
        "system",
        SHOWN,
        "look",
        "colours of the window",
        {"system": "as the system", "light": "light", "dark": "dark", "high contrast": "high contrast"},
    )
    text_size_percent: int = _setting(
        100,
        SHOWN,
        "text size",
        "text and everything beside it grow together",
        Kind.WHOLE,
        least=100,
        most=200,
        unit="%",
    )
    language: str = _choice(
        "system",
        SHOWN,
        "language",
        "of the window; files stay the same in every language",
        {"system": "as the system", "en": "English", "de": "Deutsch"},
    )
    paper: str = _choice("a4", SHOWN, "paper", "of walk sheets and tags", {"a4": "A4", "letter": "Letter (US)"})
    motion: str = _choice(
        "system",
        SHOWN,
        "motion",
        "less: nothing slides or fades",
        {"system": "as the system", "less": "less"},
    )
    names_on_map: bool = _setting(
        True, ON_THE_MAP, "names of trees", "drawn beside the trees where there is room", Kind.YES_NO
    )
    bearings: str = _choice(
        "true",
        ON_THE_MAP,
        "bearings",
        "from true north, or from magnetic north as a compass shows it that day; each bearing says which",
        {"true": "true", "magnetic": "magnetic"},
    )
    national_grid_epsg: int | None = _setting(
        None,
        ON_THE_MAP,
        "national grid",
        "its EPSG code, such as 3067; coordinates are then told in it too",
        Kind.WHOLE,
        least=1024,
        most=999_999,
        optional=True,
    )
    compass_deg: float = _setting(
        2.0,
        MEASURED,
        "a bearing is good to",
        "standard deviation of one reading of your compass, where a field sheet does not tell (an assumption)",
        Kind.NUMBER,
        least=0.1,
        most=20,
        unit="°",
    )
    tape_percent: float = _setting(
        1.0,
        MEASURED,
        "a taped length is good to",
        "standard deviation, of the length; never less than 5 cm (an assumption)",
        Kind.NUMBER,
        least=0.1,
        most=10,
        unit="%",
    )
    paces_percent: float = _setting(
        7.0,
        MEASURED,
        "a paced length is good to",
        "standard deviation, of the length (an assumption)",
        Kind.NUMBER,
        least=1,
        most=40,
        unit="%",
    )
    slope_deg: float = _setting(
        1.0,
        MEASURED,
        "a slope is good to",
        "standard deviation of a slope that was read (an assumption)",
        Kind.NUMBER,
        least=0,
        most=15,
        unit="°",
    )
    vessel_ml: float = _setting(
        4500.0,
        ROUNDS,
        "size of a vessel",
        "no more than this waits under one hole; a vessel's size is not the expected run",
        Kind.NUMBER,
        least=500,
        most=60_000,
        unit="ml",
    )
    overflow_percent: float = _setting(
        10.0,
        ROUNDS,
        "chance that a vessel runs over",
        "in a night; where it is larger, a larger vessel is told",
        Kind.NUMBER,
        least=1,
        most=50,
        unit="%",
    )
    capacity_kg: float = _setting(
        12.0,
        ROUNDS,
        "load a person carries",
        "cans included; less is better on bad ground",
        Kind.NUMBER,
        least=5,
        most=40,
        unit="kg",
    )
    can_kg: float = _setting(
        1.0, ROUNDS, "empty cans", "weight of the empty cans of one trip", Kind.NUMBER, least=0, most=10, unit="kg"
    )
    can_l: float = _setting(
        10.0, ROUNDS, "size of a can", "what one can holds", Kind.NUMBER, least=1, most=60, unit="L"
    )
    swap_vessels: bool = _setting(
        False,
        ROUNDS,
        "swap vessels",
        "full vessels are carried home and clean ones hung in their place; else they are poured into cans",
        Kind.YES_NO,
    )
    vessel_kg: float = _setting(
        0.4, ROUNDS, "weight of a vessel", "of one that is empty", Kind.NUMBER, least=0, most=10, unit="kg"
    )
    aim: str = _choice(
        "distance",
        ROUNDS,
        "a walk is",
        "what is made least when a walk is planned",
        {"time": "as quick as it can be", "effort": "as light as it can be", "distance": "as short as it can be"},
    )
    margin_min: float = _setting(
        30.0,
        ROUNDS,
        "margin before help is called",
        "from the planned return to the time at which somebody begins to look",
        Kind.NUMBER,
        least=0,
        most=600,
        unit="min",
    )
    collectors: int = _setting(1, ROUNDS, "collectors", "people who walk the round", Kind.WHOLE, least=1, most=20)
    backups_kept: int = _setting(
        10,
        SAFE,
        "backups kept",
        "of each stand; the oldest goes when one more is made",
        Kind.WHOLE,
        least=1,
        most=500,
    )
    backup_folder: str = _setting(
        "", SAFE, "folder for backups", "empty: a folder of standmap's own, apart from the stand", Kind.FOLDER
    )

    def __post_init__(self) -> None:
        for setting in SCHEMA:
            object.__setattr__(self, setting.name, setting.checked(getattr(self, setting.name)))
        if self.can_kg >= self.capacity_kg:
            raise UserError(
                f"empty cans of {self.can_kg:g} kg leave no room in a load of {self.capacity_kg:g} kg",
                "choose lighter cans or a larger load",
            )


def _of(attribute: Field[Any]) -> Setting:
    default: Any = attribute.default
    return Setting(name=attribute.name, default=default, **attribute.metadata)


SCHEMA: tuple[Setting, ...] = tuple(_of(attribute) for attribute in fields(Settings))
"""Every setting, in the order shown."""


def setting(name: str) -> Setting:
    """Return one setting by its name.

    Raises
    ------
    UserError
        If nothing is called so.
    """
    for known in SCHEMA:
        if known.name == name:
            return known
    names = ", ".join(known.name for known in SCHEMA)
    raise UserError(f"no setting is called {_quoted(name)}", f"they are: {names}")


def groups() -> dict[str, tuple[Setting, ...]]:
    """Return the settings by heading, in the order shown."""
    found: dict[str, tuple[Setting, ...]] = {}
    for known in SCHEMA:
        found[known.group] = (*found.get(known.group, ()), known)
    return found


def settings_of(
    kept: Mapping[str, Any], steps: Mapping[int, Step] = STEPS, target: int = FORMAT
) -> tuple[Settings, tuple[str, ...]]:
    """Return settings as they were kept, and a sentence about each value that had to give way to the default."""
    current = migrated(kept, steps, target)
    values: dict[str, Any] = {}
    cautions = []
    for known in SCHEMA:
        if known.name not in current:
            continue
        try:
            values[known.name] = known.checked(current[known.name])
        except UserError as error:
            cautions.append(f"{error.what}; it is {known.written(known.default) or 'not set'} again")
    try:
        return Settings(**values), tuple(cautions)
    except UserError as error:  # each value is allowed, but not all of them together
        values.pop("can_kg", None)
        values.pop("capacity_kg", None)
        return Settings(**values), (*cautions, f"{error.what}; both are as they were at first")


def kept_of(settings: Settings, before: Mapping[str, Any]) -> Kept:
    """Return what is to be kept: only what differs from the defaults, and names unknown here as they were."""
    known = {setting.name for setting in SCHEMA}
    number = before.get(FORMAT_NAME)
    newer = isinstance(number, int) and number > FORMAT
    kept: Kept = {FORMAT_NAME: number if newer else FORMAT}
    kept.update((name, value) for name, value in before.items() if name not in known and name != FORMAT_NAME)
    for one in SCHEMA:
        value = getattr(settings, one.name)
        if value != one.default:
            kept[one.name] = value
    return kept


def migrated(kept: Mapping[str, Any], steps: Mapping[int, Step] = STEPS, target: int = FORMAT) -> Kept:
    """Return kept settings in the layout of `target`; those of a newer layout are left as they are."""
    current = dict(kept)
    number = current.get(FORMAT_NAME, FORMAT)
    if not isinstance(number, int) or isinstance(number, bool) or number < 1:
        number = FORMAT
    for step in range(number, target):
        current = steps[step](current) if step in steps else current
    return current
