"""Finished sentences in another language: found by their pattern, whole or in the pieces they were put together from.

A job says "wood.csv, line 3: litres 'x' is not a number" in English and in one piece. What is known of it are patterns:
English with placeholders. Of all ways to take a sentence apart, the one that knows most of it is taken.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple


class Sentences:
    """The sentences of one language.

    Parameters
    ----------
    sentences
        English sentence to translated one; a placeholder in braces stands for whatever is there.
    texts
        English to translated words that may stand inside them.
    """

    def __init__(self, sentences: Mapping[str, str], texts: Mapping[str, str]) -> None:
        self._sentences = sentences
        self._texts = texts

    def said(self, source: str) -> str:
        """Return a sentence in this language; what is not known of it stays as it came."""
        return self._told(source, {}, 0).text

    @cached_property
    def _patterns(self) -> list[_Pattern]:
        # The pattern with the most words of its own comes first: it says most about what it fits.
        return sorted(map(_Pattern.of, self._sentences.items()), key=lambda one: -sum(map(len, one.literals)))

    @cached_property
    def _by_word(self) -> dict[str, list[int]]:
        found: dict[str, list[int]] = {}
        for number, pattern in enumerate(self._patterns):
            found.setdefault(pattern.word, []).append(number)
        return found

    @cached_property
    def _vocabulary(self) -> set[str]:
        return {word for text in (*self._sentences, *self._texts) for word in _WORD.findall(text)}

    def _told(self, source: str, before: dict[str, _Told], depth: int) -> _Told:
        """Return a sentence in this language: of all ways to take it apart, the one that knows most of it."""
        if source not in before:
            known = self._sentences.get(source) or self._texts.get(source)
            if known is not None:
                before[source] = _Told(known, _letters(source))
            elif depth > DEEPEST or self._vocabulary.isdisjoint(_WORD.findall(source)):
                before[source] = _Told(source, 0)
            else:
                ways = [*self._by_patterns(source, before, depth), *self._by_joints(source, before, depth)]
                before[source] = max(ways, key=lambda way: way.known, default=_Told(source, 0))
        return before[source]

    def _by_patterns(self, source: str, before: dict[str, _Told], depth: int) -> Iterator[_Told]:
        """Yield what the patterns that fit make of a sentence, those with the most words of their own first."""
        words = {"", *_WORD.findall(source)}
        fitting = 0
        for number in sorted(n for word in words for n in self._by_word.get(word, ())):
            pattern = self._patterns[number]
            parts = pattern.parts(source)
            if parts is None:
                continue
            told = {
                name: _Told(part, 0) if name in pattern.quoted else self._told(part, before, depth + 1)
                for name, part in parts.items()
            }
            known = _letters("".join(pattern.literals)) + sum(part.known for part in told.values())
            yield _Told(pattern.other.format(**{name: part.text for name, part in told.items()}), known)
            fitting += 1
            if fitting == MOST_TRIED:
                return

    def _by_joints(self, source: str, before: dict[str, _Told], depth: int) -> Iterator[_Told]:
        """Yield a sentence as pieces joined by punctuation: a list, a file's name before what is wrong with it."""
        for joint in JOINTS:
            if joint in source:
                # A list falls into all its parts; what follows a colon may be one sentence, colons and all.
                pieces = source.split(joint, 1 if joint in (SEMICOLON, COLON) else -1)
                told = [self._told(piece, before, depth + 1) for piece in pieces]
                yield _Told(joint.join(piece.text for piece in told), sum(piece.known for piece in told))
        counted = _COUNTED.fullmatch(source)
        if counted:
            one = self._told(counted[1], before, depth + 1)
            yield _Told(f"{one.text} {counted[2]}", one.known)


class _Told(NamedTuple):
    """A translated text, and how many letters of the English were known."""

    text: str
    known: int


SEMICOLON, COLON = "; ", ": "
JOINTS = (" · ", SEMICOLON, COLON, ", ", " (", ")")
"""Punctuation that joins sentences and words."""

_WORD = re.compile(r"[A-Za-z]+")
_COUNTED = re.compile(r"(.*[a-z]) (\d+)")

MOST_TRIED = 5
"""So many patterns that fit are compared."""

DEEPEST = 5
"""What stands deeper inside sentences than this is left as it is."""


_DECIMAL = re.compile(r"(?<![\w.,])(\d+)\.(\d+)(?=(?:\s?[°%]|\s(?:mm|cm|m|km|mL|L|kg|kWh|kW|min|s|h)(?!\w)))")
"""A number before its unit as jobs write it; other points are those of names and versions."""


def with_decimal_mark(text: str, mark: str) -> str:
    """Return a text whose measures have this mark before their decimals."""
    return text if mark == "." else _DECIMAL.sub(lambda found: f"{found[1]}{mark}{found[2]}", text)


def _letters(text: str) -> int:
    return sum(map(str.isalpha, text))


@dataclass(frozen=True, slots=True)
class _Pattern:
    """An English sentence as what stands between its placeholders, and its translation."""

    literals: tuple[str, ...]
    names: tuple[str, ...]
    other: str

    @property
    def quoted(self) -> frozenset[str]:
        """The placeholders between quotation marks: what somebody wrote, and is left as it is."""
        around = zip(self.names, self.literals, self.literals[1:], strict=False)
        return frozenset(name for name, left, right in around if left.endswith("'") and right.startswith("'"))

    @property
    def word(self) -> str:
        """The longest word that whatever fits must hold, or "" where a placeholder touches every word."""
        whole = re.findall(r"(?<![A-Za-z\0])[A-Za-z]+(?![A-Za-z\0])", "\0".join(self.literals))
        return max(whole, key=len, default="")

    @classmethod
    def of(cls, pair: tuple[str, str]) -> _Pattern:
        pieces = re.split(r"\{(\w+)\}", pair[0])
        return cls(tuple(pieces[::2]), tuple(pieces[1::2]), pair[1])

    def parts(self, source: str) -> dict[str, str] | None:
        """Return what stands in the placeholders' places, each as short as can be; None if the source does not fit."""
        first, *rest = self.literals
        if not (rest and source.startswith(first) and source.endswith(rest[-1])):
            return None
        begun, before, found = len(first), first, []
        for number, literal in enumerate(rest, 1):
            # Nothing may stand between quotation marks, and nowhere else.
            least = begun + (not before.endswith("'"))
            at = len(source) - len(literal) if number == len(rest) else source.find(literal, least)
            if at < least:
                return None
            found.append(source[begun:at])
            begun, before = at + len(literal), literal
        return dict(zip(self.names, found, strict=True))
