"""What keeps coming back in a selection: discovered, kept with its settings, and made anew when lines change.

A kept discovery answers as long as the lines that it looked at are the same, which a hash over them tells; then it is
read, else it is made again and takes the place of the old one.
"""

import hashlib
import json
import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict, dataclass, field, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, Literal

import sqlalchemy as sa

from corpus.errors import CorpusError, SystemTroubleError
from corpus.match.exact import Occurrence
from corpus.match.figure import Folds
from corpus.match.prices import Prices
from corpus.model import Transcription
from corpus.recur.settings import DiscoverySettings
from db.catalogue import Entry, Selection, load_entries, unknown_id
from db.families import FamilyFigure, FamilyPlace, KeptFamily, KnownNotes, kept_family, pack_family, unpack_family
from db.search import Hit

if TYPE_CHECKING:
    from corpus.match.sought import Alphabet
    from corpus.recur.repeats import FindRepeats
    from db.connection import Database

Progress = Callable[[int, int], None]
_WORTH_THREADS = 50_000


@dataclass(frozen=True, slots=True)
class RecurQuestion:
    """What is asked: which lines, and how families are made."""

    selection: Selection = field(default_factory=Selection)
    settings: DiscoverySettings = field(default_factory=DiscoverySettings)

    def as_text(self) -> str:
        """The question as JSON with sorted keys: what a kept discovery is known by."""
        return json.dumps([asdict(self.selection), asdict(self.settings)], sort_keys=True, ensure_ascii=False)

    @classmethod
    def from_text(cls, asked: str) -> "RecurQuestion":
        """The question that ``as_text`` wrote. Raises ValueError, TypeError or QueryError for another text."""
        chosen, given = json.loads(asked)
        settings: dict[str, Any] = {n: tuple(value) if isinstance(value, list) else value for n, value in given.items()}
        settings |= {"folds": Folds(**given["folds"]), "prices": Prices(**given["prices"])}
        return cls(selection_from(chosen), DiscoverySettings(**settings))


def selection_from(fields: dict[str, Any]) -> Selection:
    """A selection as ``RecurQuestion.as_text`` wrote it."""
    given: dict[str, Any] = {n: tuple(value) if isinstance(value, list) else value for n, value in fields.items()}
    return Selection(**given)


Made = Literal["kept", "new", "again", "anew", "not kept"]


@dataclass(frozen=True, slots=True)
class Discovered:
    """The families of a question, best first, among so many lines and notes.

    ``made`` says whether they were kept already, are new, were made ``again`` since lines changed or ``anew`` since
    that was asked for, or could not be kept, for which ``reason`` is given.
    """

    families: Sequence[KeptFamily]
    line_count: int
    note_count: int
    made: Made
    reason: str = ""


def lines_hash(connection: sa.Connection, selection: Selection) -> str:
    """A hash over the selected lines: which files they come from, and what was set by hand."""
    conditions, values = selection.conditions()
    where = f" WHERE {' AND '.join(conditions)}" if conditions else ""
    sql = (
        "SELECT t.id, s.content_hash, t.position, t.key, t.form FROM transcription t "
        f"JOIN source s ON s.id = t.source_id{where} ORDER BY t.id"
    )
    digest = hashlib.sha256()
    for row in connection.execute(sa.text(sql), values):
        digest.update(repr(tuple(row)).encode())
    return digest.hexdigest()


def kept(connection: sa.Connection, question: RecurQuestion) -> Discovered | None:
    """The families kept for a question, None when there are none or the lines have changed."""
    sql = "SELECT id, lines_hash, line_count, note_count FROM discovery WHERE asked = :asked"
    row = connection.execute(sa.text(sql), {"asked": question.as_text()}).first()
    if row is None or row.lines_hash != lines_hash(connection, question.selection):
        return None
    packed = connection.execute(
        sa.text("SELECT content FROM family WHERE discovery_id = :id ORDER BY rank"), {"id": row.id}
    ).scalars()
    return Discovered([unpack_family(content) for content in packed], row.line_count, row.note_count, "kept")


def discover(
    connection: sa.Connection,
    question: RecurQuestion,
    progress: Progress | None = None,
    find_repeats: "FindRepeats | None" = None,
) -> Discovered:
    """Find the families of a selection; ``find_repeats`` has the repeats counted elsewhere, with the same outcome.

    Raises CorpusError when it holds no lines.
    """
    from corpus.recur.families import Discovery
    from corpus.recur.repeats import maximal_repeats
    from db.compiled import kernels_meanwhile
    from db.recur_lines import RecurLines

    settings = question.settings
    _check_selection(connection, question.selection)
    reading = settings.readings[0] if settings.readings else "folded"
    alphabet: Alphabet = reading if reading in ("degree", "role") else "pitch"
    kernels = kernels_meanwhile()
    lines = RecurLines.of(connection, question.selection, settings.folds.doubles, alphabet)
    if not lines.note_share(lines.allowed):
        raise CorpusError(f"no note stands in a section {question.selection.section!r} of these lines")
    columns = lines.lines.columns
    # Threads cost more to start than few notes take to search.
    workers = os.cpu_count() or 1 if len(columns.classes) > _WORTH_THREADS else 1
    found_by = find_repeats or maximal_repeats
    discovery = Discovery(
        columns, settings, lines.allowed, progress, workers, lines.contexts, kernels.result(), found_by
    )
    families = [kept_family(found, lines) for found in discovery.families()]
    return Discovered(families, len(lines.lines.ids), lines.note_share(lines.allowed), "new")


def _check_selection(connection: sa.Connection, selection: Selection) -> None:
    """Raises CorpusError where no line answers, or where an ID is asked for that no line has."""
    for identity in selection.ids:
        if not connection.execute(sa.text("SELECT 1 FROM transcription WHERE id = :id"), {"id": identity}).first():
            raise unknown_id(identity)
    conditions, values = selection.conditions()
    where = f" WHERE {' AND '.join(conditions)}" if conditions else ""
    if not connection.execute(sa.text(f"SELECT 1 FROM transcription t{where} LIMIT 1"), values).first():
        raise CorpusError("no line answers to this selection: 'wellworn list' shows what there is")


def keep(connection: sa.Connection, question: RecurQuestion, discovered: Discovered, hashed: str) -> bool:
    """Keep what was found in place of what was kept before; tells whether there was anything.

    ``hashed`` is the hash over the lines that were looked at, which may have changed since.
    """
    asked = question.as_text()
    before = connection.execute(sa.text("DELETE FROM discovery WHERE asked = :asked"), {"asked": asked}).rowcount
    sql = (
        "INSERT INTO discovery (asked, lines_hash, line_count, note_count, made_at) "
        "VALUES (:asked, :hash, :lines, :notes, :now) RETURNING id"
    )
    values = {
        "asked": asked,
        "hash": hashed,
        "lines": discovered.line_count,
        "notes": discovered.note_count,
        "now": datetime.now(UTC).isoformat(sep=" "),
    }
    identity = connection.execute(sa.text(sql), values).scalar_one()
    rows = [
        {"id": identity, "rank": rank, "code": family.code, "content": pack_family(family)}
        for rank, family in enumerate(discovered.families)
    ]
    if rows:
        into = "INSERT INTO family (discovery_id, rank, code, content) VALUES (:id, :rank, :code, :content)"
        connection.execute(sa.text(into), rows)
    return before > 0


def recur(
    database: "Database",
    question: RecurQuestion,
    progress: Progress | None = None,
    again: bool = False,
    find_repeats: "FindRepeats | None" = None,
) -> Discovered:
    """The families of a selection: those kept, unless lines have changed or ``again`` says so; then made and kept.

    A database that cannot be written answers too, but nothing is kept, and the reason is told. Raises CorpusError for
    an empty selection.
    """
    with database.reading() as connection:
        found = None if again else kept(connection, question)
        if found is not None:
            return found
        discovered = discover(connection, question, progress, find_repeats)
        # Of the lines as they were looked at: others may be added before the families are kept.
        hashed = lines_hash(connection, question.selection)
    try:
        with database.writing() as connection:
            was_kept = keep(connection, question, discovered, hashed)
    except SystemTroubleError as error:
        return replace(discovered, made="not kept", reason=str(error))
    return replace(discovered, made="anew" if again else "again" if was_kept else "new")


class FamilyHits:
    """The places of families as hits: a line is loaded once and made ready once for a family, a place aligned once."""

    def __init__(self, connection: sa.Connection, settings: DiscoverySettings) -> None:
        self._connection, self._settings = connection, settings
        self._loaded: dict[int, tuple[Entry, Transcription]] = {}
        self._notes: KnownNotes = {}
        self._figures: dict[tuple[str, FamilyPlace], FamilyFigure] = {}
        self._found: dict[tuple[str, FamilyPlace, FamilyPlace], Occurrence] = {}

    def loaded(self, ids: Sequence[int]) -> dict[int, tuple[Entry, Transcription]]:
        """Entries and lines by ID."""
        missing = [identity for identity in dict.fromkeys(ids) if identity not in self._loaded]
        self._loaded.update(load_entries(self._connection, missing))
        return self._loaded

    def figure(self, family: KeptFamily) -> FamilyFigure:
        """The typical form of a family as a figure."""
        key, identity = (family.code, family.typical), family.typical.transcription
        if key not in self._figures:
            self._figures[key] = FamilyFigure(family, self.loaded([identity])[identity][1], self._settings, self._notes)
        return self._figures[key]

    def typical(self, family: KeptFamily) -> Hit:
        """Where the typical form stands."""
        return next(self.hits(family, [family.typical]))

    def hits(self, family: KeptFamily, places: Sequence[FamilyPlace]) -> Iterator[Hit]:
        """Places of a family as hits, in their order."""
        figure = self.figure(family)
        loaded = self.loaded([place.transcription for place in places])
        for place in places:
            entry, transcription = loaded[place.transcription]
            yield Hit(entry, transcription, self._occurrence(figure, place, transcription))

    def _occurrence(self, figure: FamilyFigure, place: FamilyPlace, transcription: Transcription) -> Occurrence:
        key = (figure.family.code, figure.family.typical, place)
        if key not in self._found:
            self._found[key] = figure.occurrence(place, transcription)
        return self._found[key]


def spread(connection: sa.Connection, family: KeptFamily) -> list[tuple[str, str, int]]:
    """Player and tune of each line that holds a family, and how many of its places, replays left out."""
    counts: dict[int, int] = {}
    for place in family.places:
        counts[place.transcription] = counts.get(place.transcription, 0) + (not place.is_replay)
    found: list[tuple[str, str, int]] = []
    ids = list(counts)
    for start in range(0, len(ids), 500):
        listed = ", ".join(map(str, ids[start : start + 500]))
        rows: Any = connection.execute(sa.text(f"SELECT id, player, title FROM transcription WHERE id IN ({listed})"))
        found += [(row.player, row.title, counts[row.id]) for row in rows]
    return found
