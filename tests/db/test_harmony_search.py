"""Searching by harmony: progressions, roles, degrees and context against looking at every chord and note in turn."""

import random
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest
import sqlalchemy as sa

from corpus.errors import QueryError
from corpus.harmony.analysis import analyse
from corpus.harmony.levels import LevelSpan
from corpus.harmony.numerals import Numeral, Quality, numeral_pattern
from corpus.harmony.over import parse_function, parse_progression
from corpus.harmony.role_symbols import parse_role
from corpus.harmony.roles import APPROACHES, roles_of
from corpus.match.context import Context
from corpus.match.figure import Folds, figure_from_degrees, figure_from_intervals, figure_from_roles
from corpus.match.prices import FIGURES
from corpus.match.sought import sought
from corpus.model import Transcription
from corpus.read.formats import pieces_of, read_piece
from corpus.read.written import ReadingWishes
from db.catalogue import Selection
from db.connection import Database
from db.harmony import ids_over
from db.opening import open_database
from db.search import Question, search, search_over
from tests.databases import Databases
from tests.db.helpers import is_sound, scalar, store_lines

SEED = Path(__file__).parents[2] / "seed_data"


@pytest.fixture(scope="module")
def lines() -> list[Transcription]:
    """The seed's lines that stand in two files."""
    found = []
    for name in ("walking_lines.abc", "nettle_soup_quellenberg.musicxml"):
        path = SEED / name
        found += [read_piece(piece, ReadingWishes()) for piece in pieces_of(path.read_bytes(), path.name)]
    return found


@pytest.fixture(scope="module")
def stored(
    databases: Databases, tmp_path_factory: pytest.TempPathFactory, lines: list[Transcription]
) -> Iterator[Database]:
    """These lines in a database, their IDs 1, 2, 3 …"""
    database = open_database(databases.new(tmp_path_factory.mktemp("harmony") / "lines.db"), create=True)
    store_lines(database, lines)
    yield database
    database.close()


def _joined(spans: tuple[LevelSpan, ...]) -> list[LevelSpan]:
    joined: list[LevelSpan] = []
    for span in spans:
        if joined and (joined[-1].numeral, joined[-1].key) == (span.numeral, span.key):
            joined[-1] = replace(joined[-1], end_ticks=span.end_ticks)
        else:
            joined.append(span)
    return joined


def _stretches(line: Transcription, text: str, level: int) -> list[tuple[int, int]]:
    """Where a progression stands, by trying every chord: alternatives, any chord, one key throughout."""
    spans = _joined(analyse(line).levels[level])
    words = text.split()
    found = []
    for start in range(len(spans) - len(words) + 1):
        here = spans[start : start + len(words)]
        if len({span.key for span in here}) == 1 and any(_answers(here, words, tonic) for tonic in range(12)):
            found.append((_begin(line, here), here[-1].end_ticks))
    return found


def _begin(line: Transcription, spans: list[LevelSpan]) -> int:
    """Where a progression begins: of a first chord that is written several times, at the time before the second that is
    most like the second's length, if a note starts from there on.
    """
    if len(spans) == 1:
        return spans[0].onset_ticks
    written = [c for c in line.chords if spans[0].onset_ticks <= c.onset_ticks < spans[1].onset_ticks]
    if len({re.match("[A-G][#b]?", chord.symbol)[0] for chord in written}) > 1:  # type: ignore[index]
        return spans[0].onset_ticks
    length = spans[1].end_ticks - spans[1].onset_ticks
    best = sorted(written, key=lambda c: (abs(spans[1].onset_ticks - c.onset_ticks - length), c.onset_ticks))[0]
    sounds = any(best.onset_ticks <= note.onset_ticks < spans[-1].end_ticks for note in line.notes)
    return best.onset_ticks if sounds else spans[0].onset_ticks


def _answers(spans: list[LevelSpan], words: list[str], tonic: int) -> bool:
    """Whether chords answer a progression counted from a degree so many semitones above the tonic.

    Away from the tonic only a progression with V I counts, its dominants must aim at the degree, what comes before may
    be named from it or not, and what it arrives at is no dominant.
    """
    if tonic and not any(a.split("|")[0] == "V" and b.upper() == "I" for a, b in pairwise(words)):
        return False
    for span, word in zip(spans, words, strict=True):
        numeral = span.numeral
        if numeral is None:
            return False
        if word == "*":
            continue
        if not any(_answers_one(numeral, choice, tonic) for choice in word.split("|")):
            return False
    return True


def _answers_one(numeral: Numeral, word: str, tonic: int) -> bool:
    pattern = numeral_pattern(word)
    if tonic == 0:
        return pattern.matches(numeral)
    if pattern.target_semitones is not None:
        return False
    if numeral.quality not in pattern.qualities or numeral.root_semitones != (pattern.root_semitones + tonic) % 12:
        return False
    target = None if numeral.of is None else numeral.of.root_semitones
    if word in ("V", "subV"):
        return target == tonic
    if word.upper() == "I":
        return target is None and numeral.quality is not Quality.DOMINANT
    return target in (None, tonic)


@pytest.mark.parametrize("level", [0, 1, 2, 3])
@pytest.mark.parametrize(
    "text", ["ii V I", "ii V", "V/ii ii V", "VI ii", "iii|I V/ii|vi ii V", "* ii V *", "I", "V/IV IV", "i iv", "I V I"]
)
def test_lines_over_a_progression_are_those_that_looking_at_every_chord_finds(
    stored: Database, lines: list[Transcription], text: str, level: int
) -> None:
    """First and last note over each place, at every level."""
    expected = []
    for identity, line in enumerate(lines, start=1):
        for start, end in _stretches(line, text, level):
            inside = [i for i, note in enumerate(line.notes) if start <= note.onset_ticks < end]
            if inside:
                expected.append((identity, inside[0], inside[-1]))
    context = Context(over=parse_progression(text), level=level)
    with stored.reading() as connection:
        answer = search_over(connection, context, Selection())
        few = search_over(connection, context, Selection(), limit=3)
    found = [(hit.entry.id, hit.occurrence.first, hit.occurrence.last) for hit in answer.hits]
    assert found == expected
    assert [(h.entry.id, h.occurrence.first, h.occurrence.last) for h in few.hits] == expected[:3]
    assert few.total == len(expected)


@pytest.fixture(scope="module")
def resting(
    databases: Databases, tmp_path_factory: pytest.TempPathFactory, lines: list[Transcription]
) -> Iterator[Database]:
    """The same lines resting over most chords: notes sound only now and then, differently in each line."""
    database = open_database(databases.new(tmp_path_factory.mktemp("resting") / "lines.db"), create=True)
    silenced = []
    for number, line in enumerate(lines):
        bars = random.Random(number)
        heard = {index for index in range(len(line.bars)) if bars.random() < 0.25}
        silenced.append(replace(line, notes=tuple(note for note in line.notes if note.bar_index in heard)))
    store_lines(database, silenced)
    yield database
    database.close()


@pytest.mark.parametrize("level", [0, 1, 2, 3])
@pytest.mark.parametrize("text", ["ii V I", "I", "V", "I V/ii ii V", "* ii|I", "i iv"])
def test_places_over_which_the_line_rests_are_not_counted(resting: Database, text: str, level: int) -> None:
    """The total beside a few hits is the number of all hits; each line that is counted has its number of hits."""
    progression = parse_progression(text)
    context = Context(over=progression, level=level)
    with resting.reading() as connection:
        whole = search_over(connection, context, Selection())
        few = search_over(connection, context, Selection(), limit=2)
        counted = ids_over(connection, context, Selection())
        rows = connection.execute(sa.text("SELECT functions FROM harmony WHERE level = :level"), {"level": level})
        written = sum(len(list(progression.places(functions))) for (functions,) in rows)
    assert few.total == len(whole.hits)
    assert list(few.hits) == list(whole.hits[:2])
    assert counted == sorted(Counter(hit.entry.id for hit in whole.hits).items())
    if text in ("I", "V") and level == 0:
        assert 0 < few.total < written


def test_a_progression_is_simplified_with_the_chart() -> None:
    """Level 1 knows no ii before its V, level 2 no passing vi, level 3 key centres only."""
    asked = {1: ("ii V I", 2), 2: ("I VI ii V I", 3)}
    for level, (text, steps) in asked.items():
        assert len(parse_progression(text).at_level(level)) == steps
    assert len(parse_progression("ii/IV V/IV IV").at_level(1)) == 2
    assert len(parse_progression("ii I").at_level(1)) == 2
    assert len(parse_progression("I").at_level(3)) == 1
    with pytest.raises(QueryError, match="key centres only"):
        parse_progression("V I").at_level(3)


def test_the_progressions_of_the_form_are_there_to_be_found(stored: Database) -> None:
    """Turnarounds, ii-Vs and the way to IV stand in the seed's tunes; nonsense does not."""
    for text, some in (("ii V I", True), ("I V/ii ii V", True), ("V/IV IV", True), ("bII bIII bV", False)):
        with stored.reading() as connection:
            total = search_over(connection, Context(over=parse_progression(text)), Selection(), limit=1).total
        assert (total > 0) is some, text


@pytest.mark.parametrize(
    "text", ["1 3", "3 5 b7", "approach 3", "chord scale chord", "outside *", "b9 1", "5 approach 1"]
)
@pytest.mark.parametrize("doubles", [False, True])
def test_roles_are_found_where_every_note_has_them(
    stored: Database, lines: list[Transcription], text: str, doubles: bool
) -> None:
    """Against the roles themselves, note by note; without doubles every hit begins where a plain line would have it."""
    expected = []
    for identity, line in enumerate(lines, start=1):
        roles = roles_of(line, analyse(line).spans)
        for first in range(len(line.notes) - len(text.split()) + 1):
            stretch = range(first, first + len(text.split()))
            if any(line.notes[i].pitch is None for i in stretch):
                continue
            wanted = [parse_role(word) for word in text.split()]
            if all(
                _is(roles[i], choice.symbols, choice.is_approach) for i, choice in zip(stretch, wanted, strict=True)
            ):
                expected.append((identity, first))
    with stored.reading() as connection:
        hits = search(connection, Question(figure_from_roles(text), Folds(doubles=doubles))).hits
    found = [(hit.entry.id, hit.occurrence.first) for hit in hits]
    if doubles:
        assert len(found) > 0
        return
    assert found == expected


def _is(role: object, symbols: str, is_approach: bool) -> bool:
    from corpus.harmony.role_symbols import role_symbol
    from corpus.harmony.roles import NoteRole

    if not isinstance(role, NoteRole):
        return False
    return role_symbol(role) in symbols and (not is_approach or role.movement in APPROACHES)


def test_degrees_are_found_in_the_local_key(stored: Database, lines: list[Transcription]) -> None:
    """5 6 7 1 and 3 2 1, counted from the tonic of the key in force."""
    for text, semitones in (("5 6", (7, 9)), ("3 2 1", (4, 2, 0)), ("b3 2", (3, 2))):
        expected = []
        for identity, line in enumerate(lines, start=1):
            analysis = analyse(line)
            degrees = []
            for note in line.notes:
                span = analysis.span_at(note.onset_ticks)
                key = span.key if span and span.key else line.bars[note.bar_index].key
                degrees.append(None if key is None or note.pitch is None else (note.pitch - key.tonic_pitch_class) % 12)
            count = len(semitones)
            expected += [
                (identity, i) for i in range(len(degrees) - count + 1) if tuple(degrees[i : i + count]) == semitones
            ]
        with stored.reading() as connection:
            hits = search(connection, Question(figure_from_degrees(text))).hits
        assert [(hit.entry.id, hit.occurrence.first) for hit in hits] == expected
        assert expected


_DEGREES = {"5": 7, "3": 4, "1": 0, "2": 2}


@pytest.mark.parametrize("text", ["5 chord outside 1", "5 approach 3", "scale 1", "3 * 1", "outside 2 chord"])
def test_classes_stand_in_place_of_degrees(stored: Database, lines: list[Transcription], text: str) -> None:
    """Against the roles and keys themselves, note by note."""
    words = text.split()
    kinds = {"chord": "chord tone", "scale": "scale tone", "outside": "outside"}
    expected = []
    for identity, line in enumerate(lines, start=1):
        analysis = analyse(line)
        roles = roles_of(line, analysis.spans)
        for first in range(len(line.notes) - len(words) + 1):
            for index, word in enumerate(words, start=first):
                note, role = line.notes[index], roles[index]
                span = analysis.span_at(note.onset_ticks)
                key = span.key if span and span.key else line.bars[note.bar_index].key
                if key is None or note.pitch is None or role is None:
                    break
                degree = (note.pitch - key.tonic_pitch_class) % 12
                if word in kinds and role.kind != kinds[word]:
                    break
                if word == "approach" and role.movement not in APPROACHES:
                    break
                if word in _DEGREES and degree != _DEGREES[word]:
                    break
            else:
                expected.append((identity, first))
    with stored.reading() as connection:
        hits = search(connection, Question(figure_from_degrees(text))).hits
    assert [(hit.entry.id, hit.occurrence.first) for hit in hits] == expected
    assert expected


def test_classes_alone_are_the_same_among_degrees_and_roles(stored: Database) -> None:
    """Without a degree both ways of asking mean the same, doubles ignored or not; beside --near they are refused."""
    for text in ("chord scale chord", "approach chord", "outside * chord"):
        for folds in (Folds(), Folds(doubles=True)):
            with stored.reading() as connection:
                one, other = (
                    [(hit.entry.id, hit.occurrence) for hit in search(connection, Question(figure, folds)).hits]
                    for figure in (figure_from_degrees(text), figure_from_roles(text))
                )
            assert one == other != []
    with pytest.raises(QueryError, match="leave chord"):
        sought(figure_from_degrees("5 chord 1"), Folds(), FIGURES)


def test_context_narrows_a_figure_down(stored: Database, lines: list[Transcription]) -> None:
    """Function under first and last note, roles it starts and lands on, bar of the form, beat, progression."""
    figure = figure_from_intervals("-1 -2")
    everything = _hits(stored, Question(figure))
    for context in (
        Context(first_over=parse_function("V")),
        Context(last_over=parse_function("V|subV"), level=1),
        Context(starts_on=parse_role("3")),
        Context(lands_on=parse_role("1")),
        Context(beat=Fraction(3)),
        Context(form_bar=2),
        Context(over=parse_progression("ii V")),
    ):
        found = _hits(stored, Question(figure, context=context))
        expected = [hit for hit in everything if _stands(lines[hit[0] - 1], hit, context)]
        assert found == expected
        assert 0 < len(found) < len(everything), context


def _hits(database: Database, question: Question) -> list[tuple[int, int, int]]:
    with database.reading() as connection:
        return [(h.entry.id, h.occurrence.first, h.occurrence.last) for h in search(connection, question).hits]


def _stands(line: Transcription, hit: tuple[int, int, int], context: Context) -> bool:
    """The context, asked of the analysis itself."""
    from corpus.harmony.role_symbols import role_symbol

    _, first, last = hit
    analysis = analyse(line)
    roles = roles_of(line, analysis.spans)

    def function_at(index: int) -> LevelSpan | None:
        tick = line.notes[index].onset_ticks
        return next((s for s in analysis.levels[context.level] if s.onset_ticks <= tick < s.end_ticks), None)

    for choice, index in ((context.first_over, first), (context.last_over, last)):
        span = function_at(index)
        if choice is not None and (span is None or not any(p.matches(span.numeral) for p in choice.step)):
            return False
    for role, index in ((context.starts_on, first), (context.lands_on, last)):
        if role is not None and role_symbol(roles[index]) not in role.symbols:
            return False
    if context.beat is not None and line.beat_of(first) != context.beat:
        return False
    form = line.details.form
    if context.form_bar is not None and form is not None:
        pickups = 1 if line.bars[0].number == 0 else 0
        if (line.notes[first].bar_index - pickups) % form.bars + 1 != context.form_bar:
            return False
    if context.over is None:
        return True
    onsets = line.notes[first].onset_ticks, line.notes[last].onset_ticks
    return any(start <= onsets[0] < end and onsets[1] <= end for start, end in _stretches(line, context.over.text, 0))


def test_a_turnaround_begins_with_its_own_i_not_with_that_of_the_chorus_before(stored: Database) -> None:
    """Lamplighter's Round: chorus 2 begins in bar 33; bars 31 and 32 are I too, and no place begins there."""
    context = Context(over=parse_progression("I VI ii V"))
    with stored.reading() as connection:
        hits = search_over(connection, context, Selection(tune="lamplighter")).hits
    bars = {hit.transcription.bar_of(hit.occurrence.first).number for hit in hits}
    assert {1, 33, 65} <= bars
    assert not {31, 32, 63, 64} & bars


@pytest.mark.parametrize("text", ["", "*", "ii V Q", "V|", "|", "*|V", " ".join(["ii"] * 40)])
def test_progressions_that_cannot_be_read_are_refused(text: str) -> None:
    """The error names the bad word or the limit."""
    with pytest.raises(QueryError):
        parse_progression(text)


@pytest.mark.parametrize("text", ["1 h", "b8", "chordal", ""])
def test_roles_that_cannot_be_read_are_refused(text: str) -> None:
    """Unknown words and empty figures."""
    with pytest.raises(QueryError):
        figure_from_roles(text)


def test_a_database_of_the_first_schema_is_upgraded_with_its_lines(tmp_path: Path, lines: list[Transcription]) -> None:
    """Lines stored before roles and functions existed get them, in one step, and are found."""
    from alembic import command
    from alembic.config import Config

    path = tmp_path / "old.db"
    old = Database(f"sqlite:///{path}")
    with old.writing() as connection:
        config = Config()
        config.set_main_option("script_location", "db:migrations")
        config.attributes["connection"] = connection
        command.upgrade(config, "0001")
        _store_as_then(old, connection, lines[0])
    old.close()
    database = open_database(f"sqlite:///{path}")
    assert scalar(database, "SELECT count(*) FROM harmony") == 4
    assert scalar(database, "SELECT length(role) FROM reading") == len(lines[0].notes)
    with database.reading() as connection:
        assert search_over(connection, Context(over=parse_progression("ii V I")), Selection()).total > 0
    assert is_sound(database)


def _store_as_then(database: Database, connection: object, line: Transcription) -> None:
    """A line stored with the columns of the first schema."""
    from db.store import prepare

    assert isinstance(connection, sa.Connection)
    prepared = prepare(line)
    connection.exec_driver_sql("INSERT INTO source VALUES (1, 'old.abc', 'hash', '', 1, '2026-01-01 00:00:00')")
    columns = {"id": 1, "source_id": 1, "position": 0, "collection": "", "edited": "{}", **prepared.columns}
    _insert(connection, "transcription", columns)
    _insert(connection, "line", {"transcription_id": 1, "notes": prepared.notes, "layout": prepared.layout})
    then = {name: text for name, text in prepared.readings.items() if not name.startswith(("role", "movement"))}
    _insert(connection, "reading", {"transcription_id": 1, **then})


def _insert(connection: object, table: str, row: dict[str, object]) -> None:
    assert isinstance(connection, sa.Connection)
    names = ", ".join(f'"{name}"' for name in row)
    places = ", ".join(f":{name}" for name in row)
    connection.execute(sa.text(f"INSERT INTO {table} ({names}) VALUES ({places})"), row)
