"""Humdrum files taken apart: pieces, header records, and lines cut into the columns of their spines.

Source: the Humdrum syntax (*The Humdrum Toolkit: Reference Manual*, 1994, chapter on the syntax; from memory). A file
is lines of tokens parted by tabs. ``**`` opens spines, ``*-`` ends them, ``*^`` splits one in two, ``*v`` joins
neighbours, ``*x`` exchanges two, ``*+`` opens another; ``!!!`` lines are header records, other ``!`` lines comments.
"""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

from corpus.errors import ReadingError
from corpus.text import clean_text

MOST_COLUMNS: Final = 128
MOST_PIECES: Final = 10_000
_RECORD = re.compile(r"!!!([^:\s]{1,60}):\s*(.*)")


@dataclass(frozen=True, slots=True)
class KernPiece:
    """One piece of a Humdrum file: its lines with their numbers in the file, and what messages call it."""

    file: str
    place: str
    lines: tuple[tuple[int, str], ...]


@dataclass(slots=True, eq=False)
class Column:
    """A running column: the spine it belongs to (from 0) and its kind without ``**``; compared by identity.

    ``reaches`` is where its last note ends, in quarter notes from the start of the piece.
    """

    spine: int
    kind: str
    reaches: Fraction = Fraction(0)


@dataclass(frozen=True, slots=True)
class Line:
    """A line of tokens with the columns they stand in."""

    number: int
    cells: tuple[tuple[Column, str], ...]

    @property
    def is_barline(self) -> bool:
        """Whether every token is a bar line."""
        return all(token.startswith("=") for _, token in self.cells)

    @property
    def is_interpretation(self) -> bool:
        """Whether the line says how to read what follows (``*``)."""
        return any(token.startswith("*") for _, token in self.cells)


def split_pieces(data: bytes, file: str) -> tuple[KernPiece, ...]:
    """The pieces of a file: each begins where all spines are opened anew.

    Raises ReadingError for a file without spines.
    """
    text = _decoded(data)
    pieces: list[list[tuple[int, str]]] = [[]]
    waiting: list[tuple[int, str]] = []  # comments between two pieces belong to the second
    has_spines = False
    for number, line in enumerate(text.splitlines(), start=1):
        if line.startswith("!!") or not line.strip():
            waiting.append((number, line))
            continue
        if _opens_all(line):
            if has_spines:
                pieces.append([])
            has_spines = True
        pieces[-1] += [*waiting, (number, line)]
        waiting = []
        if len(pieces) > MOST_PIECES:
            raise ReadingError(f"{file} holds more than {MOST_PIECES} pieces: split it")
    pieces[-1] += waiting
    if not has_spines:
        raise ReadingError(f"{file} opens no spine (**kern): it is no Humdrum file, or its first lines are missing")
    if len(pieces) == 1:
        return (KernPiece(file, file, tuple(pieces[0])),)
    return tuple(KernPiece(file, f"{file} piece {n}", tuple(lines)) for n, lines in enumerate(pieces, start=1))


def _decoded(data: bytes) -> str:
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def _opens_all(line: str) -> bool:
    return line.startswith("**") and all(token.startswith("**") for token in line.split("\t") if token)


def records(piece: KernPiece) -> dict[str, str]:
    """The header records by their key without a language (``OTL``), the first of each kind, as clean text."""
    found: dict[str, str] = {}
    for _, line in piece.lines:
        match = _RECORD.match(line) if line.startswith("!!!") else None
        if match is not None:
            found.setdefault(match[1].partition("@")[0], clean_text(match[2]))
    return found


@dataclass(slots=True)
class _Spines:
    """The columns that run, and how many spines were ever opened."""

    place: str
    columns: list[Column] = field(default_factory=list)
    opened: int = 0

    def open(self, kind: str, at: Fraction) -> Column:
        column = Column(self.opened, kind.strip().lower(), at)
        self.opened += 1
        return column

    def change(self, number: int, tokens: Sequence[str]) -> None:
        """Follow the split, join, exchange, open and end tokens of a line."""
        after: list[Column] = []
        index = 0
        while index < len(tokens):
            token, column = tokens[index], self.columns[index]
            index += 1
            if token == "*^":
                after += [column, Column(column.spine, column.kind, column.reaches)]
            elif token == "*v":
                joined = [column]
                while index < len(tokens) and tokens[index] == "*v" and self.columns[index].spine == column.spine:
                    joined.append(self.columns[index])
                    index += 1
                column.reaches = max(one.reaches for one in joined)
                after.append(column)
            elif token == "*+":
                after += [column, self.open("", column.reaches)]
            elif token == "*x" and index < len(tokens) and tokens[index] == "*x":
                after += [self.columns[index], column]
                index += 1
            elif token.startswith("**"):
                column.kind = token[2:].strip().lower()
                after.append(column)
            elif token != "*-":
                after.append(column)
        if len(after) > MOST_COLUMNS:
            raise ReadingError(f"{self.place}, line {number}: more than {MOST_COLUMNS} columns: not one piece of music")
        self.columns = after


def lines_of(piece: KernPiece) -> Iterator[Line]:
    """The lines of tokens in order: interpretations, bar lines and data, without comments.

    A line is yielded before what it says about the spines takes effect. Raises ReadingError, naming the line, where
    tokens and columns differ in number.
    """
    spines = _Spines(piece.place)
    for number, text in piece.lines:
        if not text.strip() or text.startswith("!"):
            continue
        tokens = text.split("\t")
        if not spines.columns:
            if not _opens_all(text):
                raise ReadingError(f"{piece.place}, line {number}: {text[:20]!r} stands outside any spine (**kern)")
            tokens = [token for token in tokens if token]
            if len(tokens) > MOST_COLUMNS:
                raise ReadingError(f"{piece.place}, line {number}: more than {MOST_COLUMNS} columns are opened")
            spines.columns = [spines.open(token[2:], Fraction(0)) for token in tokens]
            continue
        if len(tokens) != len(spines.columns):
            # In old files several tabs in a row, or spaces, part two tokens; bar lines may be fewer or more.
            tokens = [token for token in re.split(r"\t+| {2,}", text) if token]
            if all(token.startswith("=") for token in tokens):
                tokens = tokens[:1] * len(spines.columns)
        if len(tokens) != len(spines.columns):
            raise ReadingError(
                f"{piece.place}, line {number}: {len(tokens)} tokens where {len(spines.columns)} columns run:"
                " a tab is missing or one too many"
            )
        yield Line(number, tuple(zip(spines.columns, (token.strip() for token in tokens), strict=True)))
        if text.startswith("*") or "\t*" in text:
            spines.change(number, tokens)
