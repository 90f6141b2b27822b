"""Where a figure stands in disguise: all lines as columns, endings that may do, the best of them verified first.

1. ``NearLines`` reads two readings of every line selected into columns (``corpus.match.scan``).
2. ``scan`` finds every note on which an occurrence may end, with a lower bound of its price.
3. Endings are verified on the notes, the most promising first, until none left can be better than what is shown:
   only what is shown is ever unpacked, and what is shown is what trying every note of every line would give.
"""

import os
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from heapq import heappop, heappush
from itertools import islice
from typing import TYPE_CHECKING, Final

from corpus.errors import QueryError
from corpus.match.alignment import CHANGE, PARTS_SHIFT
from corpus.match.changes import Change
from corpus.match.context import LineHarmony, fits
from corpus.match.exact import Occurrence, check_rhythm
from corpus.match.forms import Form, turned
from corpus.match.near import NearLine, Place, shares_most
from corpus.match.prices import Prices
from corpus.match.sequences import sequences
from corpus.match.sought import Alphabet, sought
from corpus.model import Transcription
from corpus.readings import signed_symbol
from db.catalogue import Entry, Selection, load_entries, packed_pitches
from db.compiled import kernels_meanwhile
from db.harmony import ids_over, stored_harmonies
from db.packing import pitch_of_note
from db.readers import Reader, rows_of
from db.search import Hit, Query, Question, in_section

if TYPE_CHECKING:
    from corpus.match.columns import Columns, Places
    from corpus.match.kernels import CompiledVerifier
    from corpus.match.verify import Verified, Verifier

DEFAULT_THRESHOLD: Final = 0.85
_REPEATED: Final = signed_symbol(0)
_AT_ONCE: Final = 128
"""Endings that are verified together."""


@dataclass(frozen=True, slots=True)
class NearQuestion:
    """A question whose figure may be changed: the least likeness, what changes cost, and which forms to look for."""

    question: Question
    threshold: float = DEFAULT_THRESHOLD
    prices: Prices = field(default_factory=Prices)
    forms: tuple[Form, ...] = ("",)

    def __post_init__(self) -> None:
        if not 0 <= self.threshold <= 1:
            raise QueryError(f"--threshold {self.threshold:g} must lie between 0 (anything) and 1 (no change at all)")


@dataclass(frozen=True, slots=True)
class NearAnswer:
    """The hits that are shown, best first, and whether there are no others."""

    hits: Sequence[Hit]
    is_complete: bool


def lines_query(alphabet: Alphabet, is_collapsed: bool, selection: Selection) -> Query:
    """The query for the readings that near search looks through, by ID."""
    conditions, values = selection.conditions()
    names = ["folded", "interval", "step"] + ([] if alphabet in ("pitch", "letter") else [alphabet])
    columns = ", ".join(f"r.{name}_collapsed" if is_collapsed else f"r.{name}" for name in names)
    where = f" WHERE {' AND '.join(conditions)}" if conditions else ""
    # Without conditions the readings alone are read.
    tables = "reading r JOIN transcription t ON t.id = r.transcription_id" if conditions else "reading r"
    return Query(f"SELECT r.transcription_id, {columns} FROM {tables}{where} ORDER BY r.transcription_id", values)


@dataclass(frozen=True)
class NearLines:
    """All selected lines as columns, with their IDs; kept by who asks several questions of one kind."""

    ids: Sequence[int]
    columns: "Columns"

    @classmethod
    def of(
        cls, connection: Reader, alphabet: Alphabet, selection: Selection, is_collapsed: bool = False
    ) -> "NearLines":
        """Read them; collapsed for questions that ignore doubles. Cost: about a tenth of a second a million notes."""
        from corpus.match.columns import LineTexts, columns_of, wide_leaps

        query = lines_query(alphabet, is_collapsed, selection)
        # Lines without notes have no text to look through.
        rows = [row for row in rows_of(connection, query.sql, query.values).all() if row[1]]
        ids, texts = [row[0] for row in rows], [LineTexts(*row[1:]) for row in rows]
        wide = {ids[number]: (number, found) for number, line in enumerate(texts) if (found := wide_leaps(line))}
        leaps: dict[tuple[int, int], tuple[int, int]] = {}
        for identity, packed, intervals in packed_pitches(connection, list(wide)):
            number, notes = wide[identity]
            firsts = _firsts(intervals) if is_collapsed else range(len(intervals))
            pitch_of = pitch_of_note(packed)
            for note in notes:
                (left, letter_left), (reached, letter_reached) = pitch_of(firsts[note - 1]), pitch_of(firsts[note])
                leaps[number, note] = reached - left, letter_reached - letter_left
        return cls(ids, columns_of(alphabet, texts, leaps))


def _firsts(intervals: str) -> Sequence[int]:
    """The notes that are left when immediate repeats count as one, by the interval reading of all notes."""
    return [note for note, symbol in enumerate(intervals) if symbol != _REPEATED]


@dataclass(frozen=True, slots=True, order=True)
class _Found:
    """A place that will do, in the order in which places are shown; where rhythm counts, its price may be missing."""

    weight: int
    identity: int
    first: int
    last: int
    form: int
    verified: "Verified" = field(compare=False)
    place: Place | None = field(compare=False, default=None)

    def rivals(self, other: "_Found") -> bool:
        """Whether two places share more than half of the notes of either, as ``Place.rivals``."""
        return shares_most((self.first, self.last), (other.first, other.last))


class _Ranking:
    """Hits of one question, best first."""

    def __init__(self, connection: Reader, asked: NearQuestion, lines: NearLines | None) -> None:
        self._connection, self._asked = connection, asked
        question = asked.question
        check_rhythm(question.figure, question.rhythm)
        self._forms = [sought(turned(question.figure, form), question.folds, asked.prices) for form in asked.forms]
        selection = question.selection
        if question.context.over is not None:
            counted = ids_over(connection, question.context, selection)
            selection = replace(selection, ids=tuple(identity for identity, _ in counted) or (0,))
            lines = None
        first = self._forms[0]
        self._kernels = kernels_meanwhile()
        self._lines = lines or NearLines.of(connection, first.alphabet, selection, first.is_collapsed)
        self._loaded: dict[int, tuple[Entry, Transcription]] = {}
        self._near: dict[tuple[int, int], NearLine] = {}
        self._harmonies: dict[int, LineHarmony] = {}
        self._kept: dict[int, list[_Found]] = {}
        self._verifiers: dict[int, Verifier | CompiledVerifier] = {}

    def _most_parts(self, form: int) -> int:
        return self._forms[form].most_parts(self._asked.threshold)

    def _load(self, identity: int) -> Transcription:
        if identity not in self._loaded:
            context = self._asked.question.context
            if context.needs_harmony:
                self._harmonies.update(stored_harmonies(self._connection, [identity], context.level))
            self._loaded.update(load_entries(self._connection, [identity]))
        return self._loaded[identity][1]

    def _line(self, identity: int, form: int) -> NearLine:
        """A line ready for a form of the figure."""
        if (identity, form) not in self._near:
            transcription, asked = self._load(identity), self._forms[form]
            symbols = None
            if asked.alphabet in ("role", "degree"):
                sql = f"SELECT {asked.alphabet} FROM reading WHERE transcription_id = :id"
                symbols = rows_of(self._connection, sql, {"id": identity}).scalar_one()
            self._near[identity, form] = NearLine(asked, transcription, self._asked.question.rhythm, symbols)
        return self._near[identity, form]

    def _of_form(self, form: int) -> Iterator[tuple[int, list[_Found]]]:
        """Places of one form of the figure, some at a time, each time with the bound of all that follow."""
        from corpus.match.scan import scan
        from corpus.match.verify import Verifier

        columns, asked, most = self._lines.columns, self._forms[form], self._most_parts(form)
        kernels = self._kernels.result()
        endings = scan(columns, asked, most, os.cpu_count() or 1, kernels)
        verifier = Verifier(columns, asked, most) if kernels is None else kernels.verifier(columns, asked, most)
        self._verifiers[form] = verifier
        begin = 0
        while begin < len(endings):
            part = slice(begin, begin + _AT_ONCE)
            found = self._verified(endings.places[part], endings.bounds(part), verifier, form)
            begin += _AT_ONCE
            after = endings.bounds(slice(begin, begin + 1))
            yield int(after.min()) if len(after) else most + 1, found

    def _verified(
        self, places: "Places", bounds: "Places", verifier: "Verifier | CompiledVerifier", form: int
    ) -> list[_Found]:
        columns = self._lines.columns
        numbers, notes = (column.tolist() for column in columns.line_and_note(places))
        at = dict(zip(places.tolist(), zip(numbers, notes, strict=True), strict=True))
        found = []
        for verified in verifier.verify(places, bounds):
            number, note = at[verified.ending]
            identity, first = self._lines.ids[number], note - verified.back
            found.append(_Found(verified.weight, identity, first, note, form, verified))
        return found

    def _place(self, found: _Found) -> Place | None:
        """What was found as a place, rhythm included; None when its rhythm makes it too dear."""
        if found.place is not None:
            return found.place
        near, verifier = self._line(found.identity, found.form), self._verifiers[found.form]
        verified = found.verified
        return near.place_verified(
            (found.first, found.last), self._most_parts(found.form), verified.away, verified.letter,
            verifier.pairs(verified), verified.weight,
        )  # fmt: skip

    def _places(self) -> Iterator[_Found]:
        """Places in the order in which they are shown, rivals not yet taken out."""
        heap: list[_Found] = []
        sources = {form: self._of_form(form) for form in range(len(self._forms))}
        bounds = dict.fromkeys(sources, 0)
        while heap or bounds:
            if heap and all(heap[0].weight < bound << PARTS_SHIFT for bound in bounds.values()):
                found = heappop(heap)
                if found.place is not None or self._asked.question.rhythm == "any":
                    yield found
                elif (place := self._place(found)) is not None:
                    heappush(heap, replace(found, weight=place.weight, place=place))
                continue
            form = min(bounds, key=lambda form: (bounds[form], form))
            batch = next(sources[form], None)
            if batch is None:
                del bounds[form]
            else:
                bounds[form] = batch[0]
                for found in batch[1]:
                    heappush(heap, found)

    def hits(self) -> Iterator[Hit]:
        """Hits, best first: of places that share most of their notes the best alone."""
        question = self._asked.question
        is_anywhere = question.context.is_empty and not question.selection.section
        for found in self._places():
            hit = None if is_anywhere else self._hit(found)
            if hit is not None and not self._is_wanted(hit):
                continue
            kept = self._kept.setdefault(found.identity, [])
            is_exact = found.weight < CHANGE
            if any(found.rivals(better) for better in kept if better.form != found.form or not is_exact):
                continue
            kept.append(found)
            yield hit or self._hit(found)

    def _is_wanted(self, hit: Hit) -> bool:
        question = self._asked.question
        if not in_section(hit.transcription, hit.occurrence, question.selection.section):
            return False
        return fits(question.context, hit.transcription, hit.occurrence, self._harmonies.get(hit.entry.id))

    def _hit(self, found: _Found) -> Hit:
        place = self._place(found)
        assert place is not None
        occurrence = self._line(found.identity, found.form).occurrence(place)
        entry, transcription = self._loaded[found.identity]
        return Hit(entry, transcription, with_form(occurrence, self._asked.forms[found.form]))


def with_form(occurrence: Occurrence, form: Form) -> Occurrence:
    """An occurrence of a form of the figure: the form is its first change."""
    if not form:
        return occurrence
    return replace(occurrence, changes=(Change(form, words=form), *occurrence.changes))


def near_hits(connection: Reader, asked: NearQuestion, lines: NearLines | None = None) -> Iterator[Hit]:
    """Places that are like a figure, best first, each found only when it is asked for.

    ``lines`` are all lines of the question's selection in the figure's alphabet, where they are at hand. Raises
    QueryError where a near search makes no sense for the figure.
    """
    return _Ranking(connection, asked, lines).hits()


def search_near(
    connection: Reader, asked: NearQuestion, limit: int | None = None, lines: NearLines | None = None
) -> NearAnswer:
    """The places most like a figure, at most ``limit`` of them, best first. Raises QueryError as ``near_hits``."""
    found = near_hits(connection, asked, lines)
    hits = list(islice(found, limit))
    return NearAnswer(hits, next(found, None) is None)


def near_sequences(connection: Reader, asked: NearQuestion) -> list[Hit]:
    """Places where a figure, changed or not, is repeated at once on other degrees, best first."""
    by_line: dict[int, list[Hit]] = {}
    for hit in near_hits(connection, asked):
        by_line.setdefault(hit.entry.id, []).append(hit)
    found = [
        Hit(hits[0].entry, hits[0].transcription, occurrence)
        for hits in by_line.values()
        for occurrence in sequences(hits[0].transcription, [hit.occurrence for hit in hits])
    ]
    return sorted(found, key=lambda hit: (-hit.occurrence.likeness, hit.entry.id, hit.occurrence.first))
