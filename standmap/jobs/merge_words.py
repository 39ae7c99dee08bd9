"""What is merged, in words: what a row is called, what a field is called, what stands in it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from standmap.store.changes import COLUMNS
from standmap.store.merging import Conflict, Kind, Note, Told
from standmap.store.merging_copy import Copy, Large, Row

TABLE_WORDS = {
    "tree": "tree",
    "place": "place",
    "line": "line",
    "area": "area",
    "walk": "walk",
    "stop": "stop",
    "taken_position": "taken position",
    "sight": "sight",
    "measurement": "measurement",
    "tap_hole": "tap hole",
    "collection": "collection",
    "batch": "batch",
    "observation": "observation",
    "source": "file",
    "media": "picture",
    "weather": "day of weather",
    "plan": "mark for a season",
    "season_sign": "sign of the season",
    "planned_walk": "planned walk",
    "terrain": "heights of the ground",
    "setting": "setting",
}

FIELD_WORDS = {
    "name": "name",
    "position": "position",
    "species": "species",
    "standing": "standing",
    "soundness": "soundness",
    "rootstock": "rootstock",
    "proposed": "proposed",
    "tag_confirmed": "tag confirmed",
    "pinned": "pinned",
    "note": "note",
    "source_key": "source",
    "kind": "kind",
    "geom": "shape",
    "owner": "owner",
    "from_date": "first day",
    "until_date": "last day",
    "most_trees": "most trees",
    "course": "course",
    "walk_key": "walk",
    "tree": "tree",
    "tree_key": "tree",
    "of": "belongs to",
    "ends": "ends",
    "bearing": "bearing",
    "distance": "distance",
    "offset": "offset",
    "sigma_deg": "spread in degrees",
    "sigma_m": "spread in metres",
    "measured_on": "day measured",
    "used": "used",
    "written_at": "where it was written",
    "thickness": "thickness",
    "number": "number",
    "day": "day",
    "height_mm": "height",
    "side_deg": "side",
    "depth_mm": "depth",
    "bit_mm": "bit",
    "hole_key": "hole",
    "volume": "volume",
    "batch_key": "batch",
    "made_on": "day made",
    "purpose": "purpose",
    "volume_ml": "volume",
    "sugar_brix": "sugar",
    "what": "what was done",
    "picture": "picture",
    "least_c": "lowest temperature",
    "mean_c": "mean temperature",
    "most_c": "highest temperature",
    "rain_mm": "rain",
    "wind_m_s": "wind",
    "season": "season",
    "holes": "holes",
    "value": "value",
    "file": "file",
    "temperature_c": "temperature",
    "fate": "what became of it",
    "station": "station",
    "seen_on": "day seen",
    "content": "stops",
    "heights": "heights",
}

TYPED = frozenset({"name", "note", "species", "owner", "purpose", "value", "picture", "written_at"})
"""Fields that hold a person's own text."""

NOTHING = "nothing"
MOST_NAMES = 5
"""Names taken twice that are told one by one."""

LONGEST = 60
"""Characters of a note that are shown in one line."""


class Namer:
    """Calls the rows of a copy by names that a person knows."""

    def __init__(self, copy: Copy, other: Copy) -> None:
        self._rows = (copy.rows, other.rows)

    def called(self, table: str, row: Row) -> str:
        """Return what a row is called: a tree by its name, a record by its tree and its day."""
        held = as_dict(table, row)
        match table:
            case "measurement":
                return _dated(self.tree(held["tree_key"]), held["measured_on"])
            case "tap_hole":
                return f"{self.tree(held['tree_key'])}, hole {held['number']} of {str(held['made_on'])[:4]}"
            case "collection":
                return _dated(self._row("tap_hole", held["hole_key"]), held["collected_on"])
            case "observation":
                return _dated(f"{self.tree(held['tree_key'])}, {held['what']}", held["observed_on"])
            case "plan":
                return f"{self.tree(held['tree_key'])}, {held['season']}"
            case "stop":
                return f"{self._row('walk', held['walk_key'])}, {str(held['from_at'])[11:16]}"
            case "taken_position":
                return self.tree(held["tree_key"] or held["place_key"])
            case "sight":
                return f"{self.tree(held['from_key'])} - {self.tree(held['to_key'])}"
            case "source" | "media":
                return str(held["file_name"])
            case "weather":
                return _dated(str(held["station"]), held["day"]) if held["station"] else str(held["day"])
            case "season_sign":
                return _dated(str(held["what"]), held["seen_on"])
            case "planned_walk":
                return _dated(str(held["purpose"]), held["day"])
            case "terrain":
                return TABLE_WORDS[table]
            case _:
                return str(held["name"]) or TABLE_WORDS[table]

    def tree(self, key: object) -> str:
        """Return the name of a tree or a place."""
        for rows in self._rows:
            for table in ("tree", "place"):
                row = rows[table].get(str(key))
                if row is not None:
                    return str(as_dict(table, row)["name"])
        return NOTHING

    def _row(self, table: str, key: object) -> str:
        row = next((rows[table][str(key)] for rows in self._rows if str(key) in rows[table]), None)
        return NOTHING if row is None else self.called(table, row)

    def value(self, table: str, field: str, row: Row) -> str:
        """Return what stands in a field, in words."""
        held = as_dict(table, row)
        match table, field:
            case _, "position" | "geom" | "course":
                return _shape_words(held["geom"])
            case "tree", "standing":
                return self._standing(held)
            case "measurement", "thickness":
                return _thickness(held)
            case "collection", "volume":
                return f"{held['volume_ml'] / 1000:g} L"
            case "sight", "bearing":
                return _many((held["bearing_deg"], "°"), (held["back_bearing_deg"], "°"))
            case "sight", "distance":
                return _many((held["distance_m"], " m"), (held["slope_deg"], "°"))
            case "sight", "offset":
                return _many((held["along_m"], " m"), (held["offset_m"], " m"))
            case "sight", "ends":
                return self.called(table, row)
            case "stop", "tree":
                return _or_nothing(self.tree(held["tree_key"]), held["tree_key"])
            case "observation" | "taken_position", "of":
                return self.tree(held["tree_key"] or held.get("place_key"))
            case "media", "picture":
                return str(held["file_name"])
            case "batch", "fate":
                return _dated(str(held["fate"]), held["fate_on"]) if held["fate"] else NOTHING
            case "planned_walk", "content":
                return f"written {str(held['made_at'])[:16]}"
            case "terrain", "heights":
                return f"{held['row_count']} by {held['column_count']} cells of {held['cell_m']:g} m"
            case "tap_hole" | "collection" | "observation", "day":
                return str(held[{"tap_hole": "made_on", "collection": "collected_on"}.get(table, "observed_on")])
            case _, "tree_key":
                return self.tree(held[field])
            case _, "hole_key" | "batch_key" | "walk_key" | "source_key":
                above = {"hole_key": "tap_hole"}.get(field, field.removesuffix("_key"))
                return _or_nothing(self._row(above, held[field]), held[field])
            case _, "rootstock":
                return "shared" if held["rootstock"] else "its own"
        return _plain(field, held[field])

    def _standing(self, held: Mapping[str, Any]) -> str:
        if held["merged_into"]:
            return f"merged into {self.tree(held['merged_into'])}"
        return _dated(str(held["standing"]), held["standing_since"])


def as_dict(table: str, row: Row) -> dict[str, Any]:
    """Return a row by the names of its columns."""
    return dict(zip(COLUMNS[table], row, strict=True))


def sides_of(conflict: Conflict, namer: Namer) -> tuple[str, str]:
    """Return what our copy and the other have, in words."""
    ours, theirs = conflict.ours, conflict.theirs
    if ours is not None and theirs is not None:
        table = conflict.ref[0]
        return namer.value(table, conflict.field, ours), namer.value(table, conflict.field, theirs)
    kept = _kept_words(conflict.along)
    return (kept, "taken out") if conflict.kind is Kind.GONE_THERE else ("taken out", kept)


def _kept_words(along: int) -> str:
    if not along:
        return "changed"
    return "1 new record with it" if along == 1 else f"{along} new records with it"


def notes_words(notes: Sequence[Note]) -> tuple[str, ...]:
    """Return notes as sentences; many names that are taken twice are told in one."""
    found: list[str] = []
    named = [note for note in notes if note.about is Told.SAME_NAME]
    for table in dict.fromkeys(note.table for note in named):
        same = [note for note in named if note.table == table]
        if len(same) > MOST_NAMES:
            found.append(
                f"{len(same)} names are taken more than once now ({TABLE_WORDS[table]}), such as '{same[0].name}': "
                "give one another name, or merge the two"
            )
        else:
            found += [_note_words(note) for note in same]
    return (*(_note_words(note) for note in notes if note.about is not Told.SAME_NAME), *found)


def _note_words(note: Note) -> str:
    """Return a note as a sentence."""
    kind = TABLE_WORDS[note.table]
    match note.about:
        case Told.SAME_NAME:
            return (
                f"the name '{note.name}' is taken {note.count} times now ({kind}): "
                "give one another name, or merge the two"
            )
        case Told.SAME_FILE:
            return (
                f"'{note.name}' was brought into both copies by itself: what it brought is here twice now; "
                "take back one of the two in one copy, or merge its trees"
            )
        case Told.RENUMBERED:
            return f"{note.name}: two wounds of {note.season} had one number; the later one is number {note.count} now"
        case Told.MARKED_TWICE:
            return f"{note.name}: marked for {note.season} in both copies; {note.count} holes stay marked"
        case Told.FOLLOWED:
            records = "1 record" if note.count == 1 else f"{note.count} records"
            return f"{note.name}: {records} of a tree that was merged into it came along"


def moment_words(moment: datetime | None) -> str:
    """Return a moment as it is written beside a conflict, "" where it is not known."""
    return "" if moment is None else moment.strftime("%Y-%m-%d %H:%M")


def _or_nothing(text: str, key: object) -> str:
    return text if key is not None else NOTHING


def _dated(text: str, day: object) -> str:
    return f"{text}, {day}" if day else text


def _many(*pairs: tuple[float | None, str]) -> str:
    return ", ".join(f"{value:g}{unit}" for value, unit in pairs if value is not None) or NOTHING


def _thickness(held: Mapping[str, Any]) -> str:
    if held["girth_mm"] is not None:
        return f"girth {held['girth_mm']:g} mm"
    return f"diameter {held['diameter_mm']:g} mm"


def _shape_words(blob: object) -> str:
    if isinstance(blob, Large) or not isinstance(blob, bytes):
        return "another course"
    from standmap.store.geometry import line_of, point_of, polygon_of

    for read in (point_of, line_of, polygon_of):
        try:
            shape: Any = read(blob)
        except (ValueError, TypeError):
            continue
        if read is point_of:
            return f"{shape[1]:.6f}, {shape[0]:.6f}"
        corners = len(shape) if read is line_of else len(shape[0]) - 1
        return f"{corners} points from {_first(shape)}"
    return "another course"


def _first(shape: Any) -> str:
    while not isinstance(shape[0], float):
        shape = shape[0]
    return f"{shape[1]:.6f}, {shape[0]:.6f}"


_YES_OR_NO = frozenset({"proposed", "tag_confirmed", "pinned", "used"})


def _plain(field: str, value: object) -> str:
    if value is None or value == "":
        return NOTHING
    if field in _YES_OR_NO:
        return "is so" if value else "is not so"
    unit = {"mm": " mm", "deg": "°", "ml": " ml", "c": " °C", "s": " m/s", "m": " m"}.get(field.rsplit("_", 1)[-1], "")
    if isinstance(value, float):
        return f"{value:g}{unit}"
    text = " ".join(str(value).split())
    return f"{text[:LONGEST]}..." if len(text) > LONGEST else text
