"""Finds every text that a person reads in the code: what the window says, and the sentences that jobs make.

`python tests/desktop/texts_in_code.py CODE` prints, as TOML, what the catalogue of that language lacks,
and what it holds in vain.
"""

from __future__ import annotations

import ast
import json
import re
import sys
import tomllib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import product
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
WINDOW = ROOT / "standmap" / "desktop"
RULES = ROOT / "resources" / "rules"
SPECIES = ROOT / "resources" / "species.toml"
SENTENCE_ROOMS = (
    "aftercare",
    "formats",
    "jobs",
    "rotation",
    "rounds",
    "rules",
    "sap",
    "season",
    "stand",
    "stem",
    "store",
    "survey",
)
SENTENCE_FILES = ("settings.py", "units.py", "units_shown.py")

NOT_SAID = frozenset({"BugError", "ValueError", "TypeError", "compile", "execute", "executemany", "executescript"})
NOT_SAID_BY = frozenset({"_faults", "faults"})
"""What is handed to these calls, or made by these functions, never reaches a person."""

SAID_WORD = {"_setting": (2,), "_choice": (2,), "checked_name": (1,), "_reason": (0,), "Answer": (2, 3)}
"""Calls that are handed a word to say, and at which places."""

CALLED_BY_KIND = frozenset({"PlaceKind", "LineKind"})
"""What is called by its kind and name."""

NOT_SAID_IN = frozenset(
    {
        "schema.py",
        "crash_report.py",
        "round_files.py",
        "survey/settings.py",
        "formats/phone_page.py",
        "formats/share_map.py",
    }
)
"""What stands in files, which are the same in every language, or is no choice of a person's."""

WORDLESS = frozenset({"rotation", "store"})
"""Rooms whose single words are names of columns or ways of working."""

NO_SENTENCE = re.compile(
    r"\b(SELECT|INSERT|CREATE|PRAGMA|UPDATE|DELETE|BEGIN|DROP|ALTER|CASE)\b|[<>]|Exec=|\+\w+=|%[YHs]"
)
"""Tells SQL, XML and format strings from what is said."""

MOST_WAYS = 48
"""A text put together in more ways than this is not written out in all of them."""


def trees(folder: Path) -> Iterator[tuple[Path, ast.Module]]:
    """Yield the modules of a folder, read as syntax."""
    for path in sorted(folder.rglob("*.py")):
        yield path, ast.parse(path.read_text(encoding="utf-8"))


def window_texts() -> dict[str, str]:
    """Return every text handed to `tr` and `tr_n`, with where it stands.

    Raises
    ------
    ValueError
        If one is not written out, nor a constant of the window: it could not be found by a translator.
    """
    found: dict[str, str] = {}
    modules = [(path, module) for path, module in trees(WINDOW) if path.name != "words.py"]
    constants = _constants(module for _, module in modules)
    for path, module in modules:
        for node in ast.walk(module):
            if isinstance(node, ast.Call) and _called(node) in ("tr", "tr_n"):
                for argument in node.args[: 1 if _called(node) == "tr" else 2]:
                    where = f"{path.relative_to(ROOT)}:{node.lineno}"
                    for text in _written_out(argument, constants, where):
                        found.setdefault(text, where)
    return found


def _constants(modules: Iterable[ast.Module]) -> dict[str, list[str]]:
    """Return the texts that a name of the window stands for, wherever it is written in capitals."""
    found: dict[str, list[str]] = {}
    for module in modules:
        for node in ast.walk(module):
            given = node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
            if isinstance(node, ast.Assign | ast.AnnAssign) and isinstance(given[0], ast.Name) and node.value:
                value = node.value
                inside = value.values if isinstance(value, ast.Dict) else getattr(value, "elts", [value])
                texts = [n.value for n in inside if isinstance(n, ast.Constant) and isinstance(n.value, str)]
                if given[0].id.isupper():
                    found.setdefault(given[0].id, []).extend(texts)
    return found


def _written_out(node: ast.expr, constants: dict[str, list[str]], where: str) -> list[str]:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return [node.value]
    if isinstance(node, ast.IfExp):
        return [t for n in (node.body, node.orelse) for t in _written_out(n, constants, where)]
    if isinstance(node, ast.Call) and _called(node) == "str":
        return []  # a word of an enumeration, which stands among the sentences
    name = node.value if isinstance(node, ast.Subscript) else node
    if isinstance(name, ast.Name) and constants.get(name.id):
        return constants[name.id]
    raise ValueError(f"{where}: a text is not written out")


def _refusals(module: ast.Module) -> ast.Module:
    """Return what a module of the window refuses in words of its own; what it says otherwise goes through `tr`."""
    calls = [n for n in ast.walk(module) if isinstance(n, ast.Call) and _called(n) == "UserError"]
    for call in calls:
        call.args = [a for a in call.args if not (isinstance(a, ast.Call) and _called(a) in ("tr", "tr_n"))]
    return ast.Module([ast.copy_location(ast.Expr(call), call) for call in calls], [])


def sentence_templates() -> dict[str, str]:
    """Return the sentences that jobs and rooms make, placeholders in braces, with where they stand."""
    found: dict[str, str] = {}
    places = [ROOT / "standmap" / room for room in SENTENCE_ROOMS]
    files = [(p, m) for folder in places for p, m in trees(folder)]
    for name in SENTENCE_FILES:
        path = ROOT / "standmap" / name
        files.append((path, ast.parse(path.read_text(encoding="utf-8"))))
    files += [(path, _refusals(module)) for path, module in trees(WINDOW) if path.name != "portraits.py"]
    for path, module in files:
        if any(path.as_posix().endswith(f"/{name}") for name in NOT_SAID_IN):
            continue
        where = str(path.relative_to(ROOT))
        for text in _said_in(module, words=path.parent.name not in WORDLESS):
            found.setdefault(text, where)
    for path in sorted(RULES.glob("*.toml")):
        for text in _of_rules(tomllib.loads(path.read_text(encoding="utf-8"))):
            found.setdefault(text, str(path.relative_to(ROOT)))
    held = tomllib.loads(SPECIES.read_text(encoding="utf-8"))
    for one in [*held["genus"], *held["species"]]:
        for text in (one["common"], f"a {one['common']}"):
            found.setdefault(text, str(SPECIES.relative_to(ROOT)))
    return found


def _of_rules(held: dict[str, Any]) -> Iterator[str]:
    yield from (held["title"], held["about"], held["species"]["source"], *held["notes"], *held["cautions"])
    for figure in held["figures"].values():
        yield from (figure["given"], figure["source"], figure["unit"])
    for step in held.get("hole_steps", ()):
        yield step["source"]


@dataclass(frozen=True)
class _Given:
    """A text that a name is given: the line, and whether what it was before is forgotten or told on."""

    line: int
    value: ast.expr
    anew: bool


@dataclass
class _Scope:
    """What the names of one function stand for, where they stand for text."""

    texts: dict[str, list[_Given]] = field(default_factory=dict)
    other: set[str] = field(default_factory=set)

    @classmethod
    def of(cls, block: ast.AST) -> _Scope:
        scope = cls()
        for node in ast.walk(block):
            if isinstance(node, ast.Assign) and len(node.targets) == 1 and isinstance(node.targets[0], ast.Name):
                name = node.targets[0].id
                anew = any(isinstance(n, ast.Name) and n.id == name for n in ast.walk(node.value))
                scope.texts.setdefault(name, []).append(_Given(node.lineno, node.value, anew))
            elif isinstance(node, ast.AugAssign) and isinstance(node.target, ast.Name):
                joined = ast.BinOp(ast.Name(node.target.id), node.op, node.value)
                scope.texts.setdefault(node.target.id, []).append(_Given(node.lineno, joined, anew=False))
            elif isinstance(node, ast.arg):
                scope.other.add(node.arg)
            elif isinstance(node, ast.For | ast.comprehension):
                scope.other |= {n.id for n in ast.walk(node.target) if isinstance(n, ast.Name)}
        return scope

    def given(self, name: str, before: int) -> list[_Given]:
        """Return what a name may stand for at a line."""
        if name in self.other:
            return []
        found = sorted((g for g in self.texts.get(name, ()) if g.line < before), key=lambda g: g.line)
        last = max((i for i, g in enumerate(found) if g.anew), default=0)
        return found[last:]


def _said_in(module: ast.Module, *, words: bool) -> Iterator[str]:
    if words:
        yield from _single_words(module)
    yield from _sentences(module, _Scope.of(ast.Module(_outside_functions(module), [])))


def _outside_functions(module: ast.Module) -> list[ast.stmt]:
    return [n for n in module.body if not isinstance(n, ast.FunctionDef | ast.ClassDef)]


def _single_words(module: ast.Module) -> Iterator[str]:
    """Yield words that are said by themselves or put into a sentence: of enumerations, settings, choices, tables."""
    for node in ast.walk(module):
        if isinstance(node, ast.ClassDef) and any(isinstance(b, ast.Name) and b.id == "StrEnum" for b in node.bases):
            values = [line.value for line in node.body if isinstance(line, ast.Assign)]
            yield from _words_among(values)
            if node.name in CALLED_BY_KIND:
                yield from (f"{word} {{p1}}" for word in _words_among(values))
        elif isinstance(node, ast.Call) and _called(node) in SAID_WORD:
            yield from _words_among([node.args[i] for i in SAID_WORD[_called(node)] if i < len(node.args)])
            yield from (w for a in node.args if isinstance(a, ast.Dict) for w in _words_among(a.values))
        elif isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Tuple):
            yield from _words_among(getattr(node.value, "elts", []))
        elif isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            # A word that is its own name: TAPPED = "tapped".
            yield from (word for word in _words_among([node.value]) if word.upper() == node.targets[0].id)
        elif isinstance(node, ast.For) and isinstance(node.iter, ast.Tuple):
            # What is gone through by name: deep, wide.
            yield from _words_among([row.elts[0] for row in node.iter.elts if isinstance(row, ast.Tuple) and row.elts])
        elif isinstance(node, ast.Dict) and any(" " in word for word in _words_among(node.values)):
            yield from _words_among(node.values)
        elif isinstance(node, ast.IfExp):
            # One word or the other: what is said of a thing, such as a girth or a diameter.
            both = _words_among([node.body, node.orelse])
            yield from both if len(both) == 2 and min(map(len, both)) > len("are") else ()


def _words_among(nodes: Iterable[ast.AST]) -> list[str]:
    found = [n.value for n in nodes if isinstance(n, ast.Constant) and isinstance(n.value, str)]
    return [word for word in found if re.fullmatch(r"[A-Za-z][a-z]+([ -][A-Za-z()]+)*", word)]


def _sentences(node: ast.AST, scope: _Scope) -> Iterator[str]:
    if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
        if node.name in NOT_SAID_BY:
            return
        scope = _Scope.of(node)
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        return  # a docstring
    if isinstance(node, ast.Compare) or (isinstance(node, ast.Call) and _called(node) in NOT_SAID):
        return
    if isinstance(node, ast.expr) and not isinstance(node, ast.Name):
        ways = _ways(node, scope, node.lineno + 1)
        if ways is not None:
            yield from filter(_is_sentence, map(_numbered, ways))
            for part in ast.walk(node):
                if isinstance(part, ast.FormattedValue):
                    yield from _sentences(part.value, scope)
            return
    if isinstance(node, ast.AugAssign) and isinstance(node.target, ast.Name):
        told_on = ast.BinOp(ast.Name(node.target.id), node.op, node.value)
        yield from filter(_is_sentence, map(_numbered, _ways(told_on, scope, node.lineno) or []))
    for child in ast.iter_child_nodes(node):
        yield from _sentences(child, scope)


HOLE = "\0"


def _ways(node: ast.AST, scope: _Scope, before: int) -> list[str] | None:
    """Return every way in which a text is put together, `HOLE` for what is not written out; None for what is no text.

    What is a sentence by itself is left a hole in the text around it: it is translated by itself.
    """
    if isinstance(node, ast.Constant):
        return [node.value] if isinstance(node.value, str) else None
    if isinstance(node, ast.IfExp):
        return _either([_ways(n, scope, before) for n in (node.body, node.orelse)])
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        sides = [_ways(n, scope, before) for n in (node.left, node.right)]
        return None if sides == [None, None] else _all_ways([ways or [HOLE] for ways in sides])
    if isinstance(node, ast.Name):
        each = [_ways(g.value, scope, g.line) for g in scope.given(node.id, before)]
        return _either(each) if each and None not in each else None
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.func.attr == "strip":
        ways = _ways(node.func.value, scope, before)
        return None if ways is None else [way.strip() for way in ways]
    if isinstance(node, ast.JoinedStr):
        return _all_ways([_part_ways(node.values, i, scope, before) for i in range(len(node.values))])
    return None


def _part_ways(parts: list[ast.expr], i: int, scope: _Scope, before: int) -> list[str]:
    part = parts[i]
    if not isinstance(part, ast.FormattedValue):
        return _ways(part, scope, before) or [HOLE]
    ways = None if part.format_spec else _ways(part.value, scope, before)
    if ways is None:
        return [HOLE]
    left, right = (_literal(parts[j]) if 0 <= j < len(parts) else "" for j in (i - 1, i + 1))
    stands_apart = (
        (not left and right.strip() != "")
        or left.endswith((": ", "; ", "("))
        or (not right and left != " ")
        or right.startswith(tuple(",;:)"))
    )
    return list(dict.fromkeys(HOLE if stands_apart and _is_sentence(way) else way for way in ways))


def _literal(part: ast.expr) -> str:
    return str(part.value) if isinstance(part, ast.Constant) else HOLE


def _either(each: list[list[str] | None]) -> list[str] | None:
    if all(ways is None for ways in each):
        return None
    return list(dict.fromkeys(way for ways in each for way in (ways or [HOLE])))


def _all_ways(pieces: list[list[str]]) -> list[str]:
    while True:
        count = 1
        for piece in pieces:
            count *= len(piece)
        if count <= MOST_WAYS:
            return list(dict.fromkeys("".join(way) for way in product(*pieces)))
        widest = max(range(len(pieces)), key=lambda i: len(pieces[i]))
        pieces[widest] = [HOLE]


def _numbered(way: str) -> str:
    pieces = way.replace("{", "{{").replace("}", "}}").split(HOLE)
    return "".join(piece + (f"{{p{i}}}" if i < len(pieces) else "") for i, piece in enumerate(pieces, 1))


def _called(node: ast.Call) -> str:
    if isinstance(node.func, ast.Name):
        return node.func.id
    return node.func.attr if isinstance(node.func, ast.Attribute) else ""


def _is_sentence(text: str) -> bool:
    bare = re.sub(r"\{p\d+\}|\0", "", text)
    if text != text.strip() or text[:1] in (",", ";", ":") or NO_SENTENCE.search(bare):
        return False
    return " " in text and len(re.findall(r"[a-z]{2,}", bare)) > 0


def main(code: str) -> None:
    """Print what the catalogue of a language lacks, and what it holds that the code does not say any more."""
    path = ROOT / "resources" / "languages" / f"{code}.toml"
    held = tomllib.loads(path.read_text(encoding="utf-8")) if path.exists() else {}
    for table, texts in (("texts", window_texts()), ("sentences", sentence_templates())):
        sys.stdout.write(f"[{table}]\n")
        for text, where in texts.items():
            if text not in held.get(table, {}):
                sys.stdout.write(f'# {where}\n{json.dumps(text, ensure_ascii=False)} = ""\n')
        for text in held.get(table, {}):
            if text not in texts:
                sys.stdout.write(f"# not said any more: {json.dumps(text, ensure_ascii=False)}\n")


if __name__ == "__main__":
    main(sys.argv[1])
