"""Where a figure stands in the corpus: query, candidates from the index, verification, hits.

1. ``corpus.match.pattern`` says which text a reading must contain.
2. ``candidates`` builds the SQL: the trigram index over the reading without octaves narrows the lines down, the
   pattern's own reading decides. Figures too short for a trigram, and contours, scan the readings instead.
3. ``search`` counts matches in the texts, verifies on the notes where the text does not decide, and unpacks only the
   lines that are shown.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice
from typing import Any, Final

from corpus.match.context import Context, fits, lines_over
from corpus.match.exact import Occurrence, Rhythm, check_rhythm, occurrences
from corpus.match.figure import Figure, Folds
from corpus.match.pattern import Pattern, pattern_of
from corpus.model import Transcription
from corpus.readings import Line, line_of
from db.catalogue import Entry, Selection, load_entries
from db.dialect import TRANSCRIPTIONS, Dialect, dialect_of
from db.harmony import ids_over, stored_harmonies
from db.readers import Reader, rows_of
from db.sqlite import SQLITE

_TRIGRAM: Final = 3
_LINES_AT_ONCE: Final = 200


@dataclass(frozen=True, slots=True)
class Question:
    """A figure, the differences to ignore, how much its rhythm counts, where to look, and where it must stand."""

    figure: Figure
    folds: Folds = field(default_factory=Folds)
    rhythm: Rhythm = "any"
    selection: Selection = field(default_factory=Selection)
    context: Context = field(default_factory=Context)


@dataclass(frozen=True, slots=True)
class Hit:
    """An occurrence with the transcription it stands in."""

    entry: Entry
    transcription: Transcription
    occurrence: Occurrence


@dataclass(frozen=True, slots=True)
class Answer:
    """The hits that are shown, by transcription and place (near ones best first), and how many there are in all.

    A near search that ends early counts only what it shows: then the answer is not complete, or it was stopped.
    """

    hits: Sequence[Hit]
    total: int
    is_complete: bool = True
    is_stopped: bool = False


@dataclass(frozen=True, slots=True)
class Query:
    """SQL with its values, ready to run or to print."""

    sql: str
    values: dict[str, Any]


def column_of(pattern: Pattern) -> str:
    """The column of ``reading`` that a pattern looks into."""
    return _column(pattern, pattern.reading)


def _column(pattern: Pattern, name: str) -> str:
    return f"{name}_collapsed" if pattern.is_collapsed else name


def candidates(question: Question, pattern: Pattern, dialect: Dialect = SQLITE) -> Query:
    """The query for the lines that may hold a pattern: ID and the text of the pattern's reading, by ID.

    Roles and degrees need the intervals, movements and roles beside them.
    """
    conditions, values = question.selection.conditions()
    column = column_of(pattern)
    columns = [f"r.{column} AS text"]
    if pattern.lead == 0:
        beside = {"intervals": "interval", "movements": "movement", "roles": "role"}
        columns += [f"r.{_column(pattern, name)} AS {key}" for key, name in beside.items()]
    tables = f"reading r {TRANSCRIPTIONS}"
    lookup = _lookup(question, pattern)
    if lookup is not None and min(map(len, lookup.texts())) >= _TRIGRAM:
        holding = dialect.holding(column_of(lookup), lookup.texts())
        tables = holding.tables
        conditions.insert(0, holding.condition)
        values.update(holding.values)
    else:
        texts = [text for text in pattern.texts() if text]
        if texts:
            conditions.append("(" + " OR ".join(f"instr(r.{column}, :text{i}) > 0" for i in range(len(texts))) + ")")
            values.update({f"text{i}": text for i, text in enumerate(texts)})
    where = f" WHERE {' AND '.join(conditions)}" if conditions else ""
    return Query(f"SELECT t.id, {', '.join(columns)} FROM {tables}{where} ORDER BY t.id", values)


def _lookup(question: Question, pattern: Pattern) -> Pattern | None:
    """The pattern that an index can answer: readings without octaves find every line that a finer one could."""
    if pattern.reading in ("contour", "degree"):
        return None
    return pattern if pattern.reading == "role" else pattern_of(question.figure, replace(question.folds, octaves=True))


def _places(pattern: Pattern, row: Any) -> list[int]:
    """The places at which the text of a candidate matches."""
    if pattern.lead == 1:
        return list(pattern.places(row.text))
    beside = (row.intervals, row.movements, row.roles)
    return [place for place in pattern.places(row.text) if pattern.is_whole(place, *beside)]


def search(connection: Reader, question: Question, limit: int | None = None) -> Answer:
    """All occurrences of a figure, at most ``limit`` of them unpacked; ordered by transcription and place.

    Raises QueryError when folds or rhythm make no sense for the figure.
    """
    check_rhythm(question.figure, question.rhythm)
    pattern = pattern_of(question.figure, question.folds)
    query = candidates(question, pattern, dialect_of(connection))
    rows = rows_of(connection, query.sql, query.values).all()
    text_decides = (
        not pattern.needs_notes
        and question.rhythm == "any"
        and not question.selection.section
        and question.context.is_empty
    )
    if text_decides:
        return _counted(connection, question, pattern, rows, limit)
    return _first(_verified(connection, question, pattern, rows), limit)


def _first(found: Iterator[Hit], limit: int | None) -> Answer:
    """The first hits, and how many there are."""
    hits: list[Hit] = []
    total = 0
    for hit in found:
        total += 1
        if limit is None or total <= limit:
            hits.append(hit)
    return Answer(hits, total)


def _counted(
    connection: Reader, question: Question, pattern: Pattern, rows: Sequence[Any], limit: int | None
) -> Answer:
    """Count matches in the texts; unpack only as many lines as are shown."""
    total = 0
    shown: list[Any] = []
    for row in rows:
        here = len(_places(pattern, row))
        if here and (limit is None or total < limit):
            shown.append(row)
        total += here
    hits = list(_verified(connection, question, pattern, shown))
    return Answer(hits if limit is None else hits[:limit], total)


def _verified(connection: Reader, question: Question, pattern: Pattern, rows: Sequence[Any]) -> Iterator[Hit]:
    context = question.context
    for start in range(0, len(rows), _LINES_AT_ONCE):
        chunk = rows[start : start + _LINES_AT_ONCE]
        places = {row.id: _places(pattern, row) for row in chunk}
        ids = [identity for identity, found in places.items() if found]
        harmonies = stored_harmonies(connection, ids, context.level) if context.needs_harmony else {}
        for identity, (entry, transcription) in load_entries(connection, ids):
            line = line_of(transcription)
            found = occurrences(pattern, line, question.figure, question.rhythm, places[identity])
            for occurrence in found:
                if in_section(transcription, occurrence, question.selection.section) and fits(
                    context, transcription, occurrence, harmonies.get(identity)
                ):
                    yield Hit(entry, transcription, occurrence)


def in_section(transcription: Transcription, occurrence: Occurrence, label: str) -> bool:
    """Whether an occurrence begins in a section of that name; always for no name."""
    if not label:
        return True
    section = transcription.section_at(transcription.notes[occurrence.first].onset_ticks)
    return section is not None and section.label.casefold() == label.casefold()


def occurrences_in(transcription: Transcription, question: Question) -> list[Occurrence]:
    """Every occurrence of a question's figure in one transcription at hand, in order."""
    check_rhythm(question.figure, question.rhythm)
    line: Line = line_of(transcription)
    return list(occurrences(pattern_of(question.figure, question.folds), line, question.figure, question.rhythm))


def search_over(connection: Reader, context: Context, selection: Selection, limit: int | None = None) -> Answer:
    """What is played over each place of the context's progression; hits ordered by transcription and place.

    Raises QueryError when the context has none.
    """
    counted = ids_over(connection, context, selection)
    is_plain = replace(context, over=None).is_empty and not selection.section
    if not is_plain or limit is None:
        return _first(_lines_over(connection, context, selection, [identity for identity, _ in counted]), limit)
    total = sum(count for _, count in counted)
    ids = [identity for identity, _ in counted[:limit]]
    return Answer(list(islice(_lines_over(connection, context, selection, ids), limit)), total)


def _lines_over(connection: Reader, context: Context, selection: Selection, ids: Sequence[int]) -> Iterator[Hit]:
    for start in range(0, len(ids), _LINES_AT_ONCE):
        chunk = ids[start : start + _LINES_AT_ONCE]
        harmonies = stored_harmonies(connection, chunk, context.level)
        for identity, (entry, transcription) in load_entries(connection, chunk):
            for occurrence in lines_over(context, transcription, harmonies[identity]):
                if in_section(transcription, occurrence, selection.section):
                    yield Hit(entry, transcription, occurrence)
