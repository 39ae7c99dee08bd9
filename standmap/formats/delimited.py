"""Delimited text: its encoding and its delimiter found out, its records told by physical line, its cells made safe.

A cell that a spreadsheet would take for a formula gets one apostrophe in front when written, and loses one when read,
so that the text itself comes back unchanged.
"""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import TextIO

from standmap.formats.faults import go_on, refused, shown, unreadable, within
from standmap.formats.quantities import plain
from standmap.progress import Progress

MOST_BYTES = 512_000_000
"""Largest table that is read."""

MOST_LINE = 1_000_000
"""Characters in a line; a longer one is no line of a table."""

DELIMITERS: Mapping[str, str] = {",": "comma", ";": "semicolon", "\t": "tab", "|": "vertical bar"}
"""Delimiters that are tried, and their names."""

_CHUNK = 1 << 20
_ROWS_PER_REPORT = 2000
_LIKE_A_FORMULA = re.compile(r"'*[=+\-@\t\r]")
_GUARDED = re.compile(r"'+[=+\-@\t\r]")
_UNWRITABLE = re.compile("[\x00\ud800-\udfff]")
_UTF_16 = {codecs.BOM_UTF16_LE: "utf-16", codecs.BOM_UTF16_BE: "utf-16"}


def guarded(text: str) -> str:
    """Return a text cell that no spreadsheet takes for a formula."""
    clean = _UNWRITABLE.sub("\ufffd", text)
    return f"'{clean}" if _LIKE_A_FORMULA.match(clean) else clean


def unguarded(cell: str) -> str:
    """Return the text that `guarded` made this cell of."""
    return cell[1:] if cell[:1] == "'" and _GUARDED.match(cell) else cell


def to_bytes(header: Sequence[str], rows: Iterable[Sequence[str]]) -> bytes:
    """Return a table as RFC 4180 has it, in UTF-8: CRLF, quotes where needed, doubled inside.

    Cells are written as they come: pass texts through `guarded` first.
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(header)
    for row in rows:  # not all in one call: other threads must have their turn in between
        writer.writerow(row)
    return text.getvalue().encode("utf-8")


@dataclass(frozen=True, slots=True)
class Table:
    """A table whose header has been read.

    Attributes
    ----------
    header
        Plain column names, see `plain`.
    written
        The same as they stand in the file.
    delimiter, encoding
        What was found out.
    told
        The same in words.
    skip
        So many lines stand before the header.
    """

    path: Path
    header: tuple[str, ...]
    written: tuple[str, ...]
    delimiter: str
    encoding: str
    told: tuple[str, ...]
    size: int
    skip: int = 0

    def rows(self, progress: Progress) -> Iterator[tuple[int, list[str]]]:
        """Yield the records below the header that are not blank, each with the line it starts on, from 1.

        Raises
        ------
        UserError
            If a quote is left open, a cell is too long, the file cannot be read on, or a stop is wanted.
        """
        try:
            with self.path.open("rb") as raw, io.TextIOWrapper(raw, encoding=self.encoding, newline="") as file:
                records = _records(self.path, file, self.delimiter, skip=self.skip)
                next(records, None)
                for count, (line, cells) in enumerate(records):
                    if count % _ROWS_PER_REPORT == 0:
                        go_on(self.path, progress, raw.tell(), self.size)
                    yield line, cells
        except OSError as error:
            raise unreadable(self.path, error) from None


def open_table(path: Path, known: Callable[[str], bool], *, understood: str, skip: int = 0) -> Table:
    """Find out encoding, delimiter and header of a delimited text.

    Parameters
    ----------
    known
        Tells whether a plain column name means something to the caller: the delimiter that gives most such names wins.
    understood
        The column names to list when there are none.
    skip
        So many lines before the header are left out.

    Raises
    ------
    UserError
        If the file cannot be read, is no text, or has no usable header.
    """
    size = within(path, MOST_BYTES, "split it")
    try:
        encoding, encoding_name = _encoding(path)
        best: tuple[int, int] = (0, 0)
        delimiter, header, line = ",", [""], 1
        for candidate in DELIMITERS:
            with path.open(encoding=encoding, newline="") as file:
                first = next(_records(path, file, candidate, forgiving=True, skip=skip), None)
            if first is None:
                continue
            score = (sum(known(plain(cell)) for cell in first[1]), len(first[1]))
            if score > best:
                best, delimiter, (line, header) = score, candidate, first
    except OSError as error:
        raise unreadable(path, error) from None
    if best == (0, 0):
        with path.open(encoding=encoding, newline="") as file:
            next(_records(path, file, ",", skip=skip), None)  # says what is wrong, unless the text is blank
        raise refused(path, "holds no line of text", "export or copy it again")
    if best[0] == 0:
        raise refused(
            path,
            f"was read as a table, but '{shown(delimiter.join(header))}' names no column that is understood",
            f"the first line must name some of: {understood}",
            where=f"line {line}",
        )
    if len(header) == 1:
        raise refused(
            path,
            f"has one column only ('{shown(header[0])}')",
            "separate the columns by a comma, semicolon, tab or vertical bar",
            where=f"line {line}",
        )
    told = (f"the text is {encoding_name}", f"columns are separated by a {DELIMITERS[delimiter]}")
    return Table(path, tuple(map(plain, header)), tuple(header), delimiter, encoding, told, size, skip)


def _encoding(path: Path) -> tuple[str, str]:
    """Return the codec and the name of the encoding that the whole file is in."""
    with path.open("rb") as file:
        head = file.read(4)
    if head.startswith(codecs.BOM_UTF8):
        candidates = [("utf-8-sig", "UTF-8 with a byte-order mark")]
    elif head[:2] in _UTF_16:
        candidates = [("utf-16", "UTF-16")]
    else:
        candidates = [("utf-8", "UTF-8"), ("cp1252", "Windows-1252, as it is not UTF-8")]
    for codec, name in candidates:
        if _decodes(path, codec):
            return codec, name
    raise refused(path, "is not text in UTF-8, UTF-16 or Windows-1252", "save it as CSV in UTF-8")


def _decodes(path: Path, codec: str) -> bool:
    decoder = codecs.getincrementaldecoder(codec)()
    try:
        with path.open("rb") as file:
            while chunk := file.read(_CHUNK):
                if "\0" in decoder.decode(chunk):
                    raise refused(path, "holds a NUL character, so it is no text", "save it as CSV in UTF-8")
            decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return False
    return True


def _lines(path: Path, file: TextIO) -> Iterator[str]:
    number = 0
    while line := file.readline(MOST_LINE):
        number += 1
        if len(line) == MOST_LINE and line[-1] not in "\r\n":
            raise refused(
                path, f"the line is longer than {MOST_LINE} characters", "is this a table?", where=f"line {number}"
            )
        yield line


def _records(
    path: Path, file: TextIO, delimiter: str, *, forgiving: bool = False, skip: int = 0
) -> Iterator[tuple[int, list[str]]]:
    """Yield the records that are not blank with the physical line each starts on, the first lines left out.

    A forgiving search ends at the first fault: another delimiter may read it.
    """
    reader = csv.reader(islice(_lines(path, file), skip, None), delimiter=delimiter, strict=True)
    while True:
        line = skip + reader.line_num + 1
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            if forgiving:
                return
            raise refused(path, *_csv_fault(error), where=f"line {line}") from None
        if any(cell.strip() for cell in cells):
            yield line, cells


def _csv_fault(error: csv.Error) -> tuple[str, str]:
    text = str(error)
    if "unexpected end" in text:
        return "a quote is opened here and never closed", "close it, or double a quote inside a cell"
    if "field limit" in text:
        return f"a cell is longer than {csv.field_size_limit()} characters", "is a quote left open?"
    return f"the cells cannot be told apart ({shown(text, 60)})", "double a quote inside a quoted cell"
