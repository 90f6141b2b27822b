"""Where a figure stands in the corpus: query, candidates from the index, verification, hits.

1. ``corpus.match.pattern`` says which text a reading must contain.
2. ``candidates`` builds the SQL: the trigram index over the reading without octaves narrows the lines down, the
   pattern's own reading decides. Figures too short for a trigram, and contours, scan the readings instead.
3. ``search`` counts matches in the texts, verifies on the notes where the text does not decide, and unpacks only the
   lines that are shown.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Final

import sqlalchemy as sa

from corpus.match.exact import Occurrence, Rhythm, check_rhythm, occurrences
from corpus.match.figure import Figure, Folds
from corpus.match.pattern import Pattern, pattern_of
from corpus.model import Transcription
from corpus.readings import Line, line_of
from db.catalogue import Entry, Selection, load_entries

_TRIGRAM: Final = 3
_LINES_AT_ONCE: Final = 200


@dataclass(frozen=True, slots=True)
class Question:
    """A figure, the differences to ignore, how much its rhythm counts, and where to look."""

    figure: Figure
    folds: Folds = field(default_factory=Folds)
    rhythm: Rhythm = "any"
    selection: Selection = field(default_factory=Selection)


@dataclass(frozen=True, slots=True)
class Hit:
    """An occurrence with the transcription it stands in."""

    entry: Entry
    transcription: Transcription
    occurrence: Occurrence


@dataclass(frozen=True, slots=True)
class Answer:
    """The hits that are shown, by transcription and place, and how many there are in all."""

    hits: Sequence[Hit]
    total: int


@dataclass(frozen=True, slots=True)
class Query:
    """SQL with its values, ready to run or to print."""

    sql: str
    values: dict[str, Any]


def column_of(pattern: Pattern) -> str:
    """The column of ``reading`` that a pattern looks into."""
    return f"{pattern.reading}_collapsed" if pattern.is_collapsed else pattern.reading


def candidates(question: Question, pattern: Pattern) -> Query:
    """The query for the lines that may hold a pattern: ID and the text of the pattern's reading, by ID."""
    conditions, values = question.selection.conditions()
    column = column_of(pattern)
    tables = "reading r JOIN transcription t ON t.id = r.transcription_id"
    lookup = None
    if pattern.reading != "contour":
        # The index holds readings without octaves only: they find every line that any finer reading could.
        lookup = pattern_of(question.figure, replace(question.folds, octaves=True))
    if lookup is not None and min(map(len, lookup.texts())) >= _TRIGRAM:
        index = f"{column_of(lookup)}_index"
        # CROSS JOIN keeps SQLite from turning the order round: the index comes first.
        tables = (
            f"{index} i CROSS JOIN reading r ON r.transcription_id = i.rowid JOIN transcription t ON t.id = i.rowid"
        )
        conditions.insert(0, f"{index} MATCH :texts")
        values["texts"] = " OR ".join(f'"{text}"' for text in lookup.texts())
    else:
        texts = [text for text in pattern.texts() if text]
        if texts:
            conditions.append("(" + " OR ".join(f"instr(r.{column}, :text{i}) > 0" for i in range(len(texts))) + ")")
            values.update({f"text{i}": text for i, text in enumerate(texts)})
    where = f" WHERE {' AND '.join(conditions)}" if conditions else ""
    return Query(f"SELECT t.id, r.{column} AS text FROM {tables}{where} ORDER BY t.id", values)


def search(connection: sa.Connection, question: Question, limit: int | None = None) -> Answer:
    """All occurrences of a figure, at most ``limit`` of them unpacked; ordered by transcription and place.

    Raises QueryError when folds or rhythm make no sense for the figure.
    """
    check_rhythm(question.figure, question.rhythm)
    pattern = pattern_of(question.figure, question.folds)
    query = candidates(question, pattern)
    rows = connection.execute(sa.text(query.sql), query.values).all()
    text_decides = not pattern.needs_notes and question.rhythm == "any" and not question.selection.section
    if text_decides:
        return _counted(connection, question, pattern, rows, limit)
    hits: list[Hit] = []
    total = 0
    for hit in _verified(connection, question, pattern, rows):
        total += 1
        if limit is None or total <= limit:
            hits.append(hit)
    return Answer(hits, total)


def _counted(
    connection: sa.Connection, question: Question, pattern: Pattern, rows: Sequence[Any], limit: int | None
) -> Answer:
    """Count matches in the texts; unpack only as many lines as are shown."""
    total = 0
    shown: list[Any] = []
    for row in rows:
        here = sum(1 for _ in pattern.places(row.text))
        if here and (limit is None or total < limit):
            shown.append(row)
        total += here
    hits = list(_verified(connection, question, pattern, shown))
    return Answer(hits if limit is None else hits[:limit], total)


def _verified(connection: sa.Connection, question: Question, pattern: Pattern, rows: Sequence[Any]) -> Iterator[Hit]:
    for start in range(0, len(rows), _LINES_AT_ONCE):
        chunk = rows[start : start + _LINES_AT_ONCE]
        texts = {row.id: row.text for row in chunk}
        for identity, (entry, transcription) in load_entries(connection, [row.id for row in chunk]):
            line = line_of(transcription)
            for occurrence in occurrences(pattern, line, question.figure, question.rhythm, texts[identity]):
                if _in_section(transcription, occurrence, question.selection.section):
                    yield Hit(entry, transcription, occurrence)


def _in_section(transcription: Transcription, occurrence: Occurrence, label: str) -> bool:
    if not label:
        return True
    section = transcription.section_at(transcription.notes[occurrence.first].onset_ticks)
    return section is not None and section.label.casefold() == label.casefold()


def occurrences_in(transcription: Transcription, question: Question) -> list[Occurrence]:
    """Every occurrence of a question's figure in one transcription at hand, in order."""
    check_rhythm(question.figure, question.rhythm)
    line: Line = line_of(transcription)
    return list(occurrences(pattern_of(question.figure, question.folds), line, question.figure, question.rhythm))
