"""The Python interface: a corpus in a script or a notebook, by the same calls as the commands.

::

    from db.api import Corpus, Selection

    with Corpus("lines.db") as corpus:
        places = corpus.find(notes="F2 D2 Eb2 E2 F2", ignore="doubles")
        places              # in a notebook: a table
        places[0]           # engraved, the figure under a bracket
        corpus.notes(Selection(player="quist")).rows   # what pandas.DataFrame takes

Everything is read only; adding and keeping is the commands' work. Rows hold plain values, and ``columns`` says what
each means, with its unit. All errors are ``corpus.errors.WellwornError``.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Literal, overload

from corpus.errors import CorpusError
from corpus.model import Transcription
from db.asking import Asked, HowNear, answer_of, figure_of
from db.catalogue import Entry, Selection, entries, load, load_entries
from db.connection import Database
from db.rows import (
    FAMILY_COLUMNS,
    FOUND_COLUMNS,
    LINE_COLUMNS,
    NOTE_COLUMNS,
    OCCURRENCE_COLUMNS,
    Column,
    family_rows,
    hit_rows,
    line_rows,
    note_rows,
    occurrence_rows,
)
from db.search import Hit

if TYPE_CHECKING:
    from corpus.match.context import Context
    from corpus.match.prices import Prices

__all__ = ["Column", "Corpus", "Line", "Place", "Places", "Selection", "Table"]

_SHOWN_ROWS = 40
_SHOWN_BARS = 8
_BARS_AROUND = 6
Rhythm = Literal["any", "stretched", "same"]


@dataclass(frozen=True)
class Table:
    """Rows with the same columns. ``pandas.DataFrame(table.rows)`` makes a frame of them."""

    columns: Sequence[Column]
    rows: Sequence[Mapping[str, Any]]

    def __len__(self) -> int:
        return len(self.rows)

    def _repr_html_(self) -> str:
        """The first forty rows for a notebook; a column's meaning shows when the mouse rests on its name."""
        return _html_table(self.columns, self.rows)


@dataclass(frozen=True)
class Line:
    """A stored line."""

    entry: Entry
    transcription: Transcription

    def svg(self, first_bar: int = 0, last_bar: int | None = None) -> str:
        """Bars, by their index as played from 0 (both included; None: to the end), engraved as SVG."""
        return _engraved(self.transcription, first_bar, last_bar, None)

    def musicxml(self) -> str:
        """The line as MusicXML 4.0 text."""
        from corpus.write.musicxml import musicxml_of

        return musicxml_of(self.transcription)

    def midi(self) -> bytes:
        """The line as a Standard MIDI File."""
        from corpus.write.midi import midi_of

        return midi_of(self.transcription)

    def abc(self) -> str:
        """The line as an ABC tune."""
        from corpus.write.abc import abc_of

        return abc_of([self.transcription])

    def _repr_html_(self) -> str:
        """Title, player and the first eight bars for a notebook."""
        last = min(_SHOWN_BARS, len(self.transcription.bars)) - 1
        return f"<p>{_escaped(_heading(self.entry))}</p>{self.svg(0, last)}"


@dataclass(frozen=True)
class Place:
    """A place where a figure stands."""

    hit: Hit

    @property
    def fields(self) -> Mapping[str, Any]:
        """The place as plain values: the columns of ``Places``."""
        return next(hit_rows([self.hit]))

    def svg(self) -> str:
        """The bars in which the figure stands, the figure under a bracket, engraved as SVG."""
        from corpus.write.engrave import Mark

        line, occurrence = self.hit.transcription, self.hit.occurrence
        first, last = line.notes[occurrence.first].bar_index, line.notes[occurrence.last].bar_index
        last = min(last, first + _BARS_AROUND - 1)
        return _engraved(line, first, last, Mark("A", occurrence.first, occurrence.last))

    def _repr_html_(self) -> str:
        """Where it stands, what was changed, and the engraving, for a notebook."""
        fields = self.fields
        where = f"{_heading(self.hit.entry)}: bar {fields['bar']} beat {fields['beat']:g}"
        changes = "; ".join(fields["changes"])
        return f"<p>{_escaped(where)}{f'<br>{_escaped(changes)}' if changes else ''}</p>{self.svg()}"


class Places(Sequence[Place]):
    """The places of a figure; ``total`` counts those that a limit left out too."""

    columns: Sequence[Column] = FOUND_COLUMNS

    def __init__(self, hits: Sequence[Hit], total: int) -> None:
        self._places = [Place(hit) for hit in hits]
        self.total = total

    def __len__(self) -> int:
        return len(self._places)

    @overload
    def __getitem__(self, index: int) -> Place: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Place]: ...
    def __getitem__(self, index: int | slice) -> Place | Sequence[Place]:
        return self._places[index]

    @property
    def rows(self) -> list[Mapping[str, Any]]:
        """A row a place, as the columns tell."""
        return [place.fields for place in self._places]

    def _repr_html_(self) -> str:
        """The places as a table for a notebook."""
        return _html_table(self.columns, self.rows)


class Corpus:
    """An open database. ``place`` is a file or a database URL; without one, ``WELLWORN_DB`` or the user's own.

    Raises CorpusError when there is none, or it is not wellworn's.
    """

    def __init__(self, place: str | Path | None = None) -> None:
        from db.location import database_url
        from db.opening import open_database

        self.database: Database = open_database(database_url(None if place is None else str(place)))

    @classmethod
    def of(cls, database: Database) -> "Corpus":
        """The corpus in a database that is open already."""
        corpus = cls.__new__(cls)
        corpus.database = database
        return corpus

    def close(self) -> None:
        """Give the database back."""
        self.database.close()

    def __enter__(self) -> "Corpus":
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    # -- lines -----------------------------------------------------------------------------------------------------

    def entries(self, where: Selection | None = None) -> list[Entry]:
        """What is known of the lines selected. Raises CorpusError when none is, or an ID that was asked for is not."""
        wanted = where or Selection()
        with self.database.asking() as connection:
            found, _ = entries(connection, wanted)
        missing = set(wanted.ids) - {entry.id for entry in found}
        if missing:
            listed = ", ".join(map(str, sorted(missing)))
            raise CorpusError(f"there is no transcription {listed} among those selected: 'wellworn list' shows the IDs")
        if not found:
            raise CorpusError("no line answers to this: 'wellworn list' shows what there is")
        return found

    def transcriptions(self, lines: Sequence[Entry]) -> list[tuple[Entry, Transcription]]:
        """Lines with all their notes, in the order given."""
        with self.database.asking() as connection:
            return [loaded for _, loaded in load_entries(connection, [entry.id for entry in lines])]

    def line(self, identity: int) -> Line:
        """The line of an ID. Raises CorpusError when there is none."""
        with self.database.asking() as connection:
            return Line(*load(connection, identity))

    def lines(self, where: Selection | None = None) -> Table:
        """A row a line."""
        return self._table(LINE_COLUMNS, line_rows, where)

    def notes(self, where: Selection | None = None) -> Table:
        """A row a note, with all its roles. All rows are in memory: select, or use ``wellworn table`` for millions."""
        return self._table(NOTE_COLUMNS, note_rows, where)

    def _table(self, columns: Sequence[Column], make: Any, where: Selection | None) -> Table:
        with self.database.reading() as connection:
            return Table(columns, list(make(connection, where or Selection())))

    # -- questions -------------------------------------------------------------------------------------------------

    def find(
        self,
        *,
        notes: str | None = None,
        intervals: str | None = None,
        steps: str | None = None,
        contour: str | None = None,
        roles: str | None = None,
        degrees: str | None = None,
        like: tuple[int, str] | None = None,
        ignore: str = "",
        rhythm: Rhythm = "any",
        near: bool = False,
        threshold: float | None = None,
        prices: "Prices | None" = None,
        over: str | None = None,
        level: int = 0,
        context: "Context | None" = None,
        where: Selection | None = None,
        limit: int | None = None,
    ) -> Places:
        """Where a figure comes back, in any key; options and their texts are those of ``wellworn find``.

        ``like`` is a passage: the ID of a line and bars. ``context`` says more of what must stand around the figure
        than ``over`` and ``level`` do. With ``near`` the best places come first. Raises QueryError for a question that
        makes no sense.
        """
        from corpus.match.context import Context
        from corpus.match.figure import Folds, figure_from_notes_of

        figure = figure_of(notes=notes, intervals=intervals, steps=steps, contour=contour, roles=roles, degrees=degrees)
        if like is not None:
            from db.passages import passage_at

            passage, (first, last) = passage_at(self.database, str(like[0]), like[1])
            figure = figure_from_notes_of(passage, first, last)
        around = context or Context(level=level)
        if over is not None:
            from dataclasses import replace

            from corpus.harmony.over import parse_progression

            around = replace(around, over=parse_progression(over).at_level(level), level=level)
        how_near = HowNear(near, threshold, prices)
        asked = Asked(figure, Folds.parse(ignore), rhythm, where or Selection(), around, how_near)
        answer = answer_of(self.database, asked, limit)
        return Places(answer.hits, answer.total)

    def families(self, where: Selection | None = None) -> Table:
        """A row a family of recurring figures, best first; discovered now, or as it was kept."""
        return self._discovered(FAMILY_COLUMNS, family_rows, where)

    def occurrences(self, where: Selection | None = None) -> Table:
        """A row a place of a family."""
        return self._discovered(OCCURRENCE_COLUMNS, occurrence_rows, where)

    def _discovered(self, columns: Sequence[Column], make: Any, where: Selection | None) -> Table:
        from db.recur import RecurQuestion, recur

        question = RecurQuestion(where or Selection())
        found = recur(self.database, question)
        with self.database.reading() as connection:
            return Table(columns, list(make(connection, question, found)))


# -- for notebooks -------------------------------------------------------------------------------------------------


def _escaped(text: str) -> str:
    from html import escape

    return escape(text)


def _heading(entry: Entry) -> str:
    player = f", {entry.details.player}" if entry.details.player else ""
    return f"{entry.id} {entry.details.title}{player}"


def _engraved(line: Transcription, first: int, last: int | None, mark: Any) -> str:
    from corpus.write.engrave import EngravingOptions, svg_pages
    from corpus.write.musicxml import Page

    marks = [] if mark is None else [mark]
    return svg_pages(line, EngravingOptions(Page(first, last), marks, width_mm=190))[0]


def _html_table(columns: Sequence[Column], rows: Sequence[Mapping[str, Any]]) -> str:
    heads = "".join(f'<th title="{_escaped(column.meaning)}">{_escaped(column.name)}</th>' for column in columns)
    body = "".join(f"<tr>{''.join(_cells(columns, row))}</tr>" for row in rows[:_SHOWN_ROWS])
    left = len(rows) - _SHOWN_ROWS
    more = f"<p>and {left:,} more rows</p>" if left > 0 else ""
    return f"<table><thead><tr>{heads}</tr></thead><tbody>{body}</tbody></table>{more}"


def _cells(columns: Sequence[Column], row: Mapping[str, Any]) -> Iterator[str]:
    for column in columns:
        value = row.get(column.name)
        if isinstance(value, (list, tuple)):
            value = ("; " if any(" " in str(item) for item in value) else " ").join(map(str, value))
        yield f"<td>{'' if value is None else _escaped(str(value))}</td>"
