"""What goes into a lesson page, gathered from the database: families, common stock, profile, the teacher's text."""

import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from corpus.errors import QueryError

if TYPE_CHECKING:
    import sqlalchemy as sa

    from cli.families import Teller, Told
    from corpus.lesson.figures import FoundFamily
    from corpus.lesson.lesson import Lesson
    from corpus.model import Transcription
    from db.catalogue import Entry, Selection
    from db.connection import Database
    from db.search import Hit

_ELSEWHERE: Final = 4
_LOOKED_AT: Final = 12
"""Places of a family that are looked at to tell what they have in common."""
_STOCK: Final = 10
LONGEST_NOTES: Final = 100_000
_PROFILED: Final = (
    "roots.all",
    "roots.first_beats",
    "roots.chord_changes",
    "kinds.all_notes.chord",
    "kinds.all_notes.outside",
    "entered.half_step_below",
    "entered.half_step_above",
    "entered.enclosure",
    "intervals.half_step",
    "intervals.fourth",
    "register.pitch",
    "rhythm.quarters",
)
"""Figures of a profile that say most about a line in a few rows."""


@dataclass(frozen=True, slots=True)
class Stock:
    """A row of the table of clichés: a figure that several players hold."""

    letter: str
    notes: str
    labels: str
    places: int
    tunes: int
    players: int
    here: int


@dataclass(frozen=True, slots=True)
class ProfileRow:
    """A figure of the short profile with its interval and the notes it rests on."""

    words: str
    value: str
    interval: str
    n: int


@dataclass(frozen=True, slots=True)
class BarRemarks:
    """What is worth saying about a bar, a sentence each."""

    bar: str
    sentences: tuple[str, ...]


@dataclass(frozen=True)
class PageContents:
    """All that a page tells; ``line_count`` and ``note_count`` say how large the corpus is that was looked at."""

    lesson: "Lesson"
    stock: tuple[Stock, ...]
    remarks: tuple["BarRemarks", ...]
    profile: tuple[ProfileRow, ...]
    profile_remarks: tuple[str, ...]
    line_count: int
    note_count: int


def suggested_name(title: str, identity: str) -> str:
    """A file name after a title: ``slow-ferry-home-10.html``."""
    words = re.sub(r"[^a-z0-9]+", "-", title.lower())[:60].strip("-")
    return f"{words or 'line'}-{identity}.html"


def read_notes(name: str) -> str:
    """The text of the teacher's file. Raises QueryError when it cannot be read as text, or is too long."""
    path = Path(name).expanduser()
    try:
        data = path.read_bytes()
    except (OSError, ValueError) as error:
        raise QueryError(f"--notes {name} cannot be read: is there such a file?") from error
    if len(data) > LONGEST_NOTES:
        raise QueryError(f"--notes {name} is longer than {LONGEST_NOTES:,} bytes: a page wants less")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise QueryError(f"--notes {name} is no text in UTF-8 (byte {error.start + 1}): save it as UTF-8") from error


def shown_bars(line: "Transcription", chorus: int | None, bars: str) -> range:
    """The indexes of the played bars that are shown. Raises QueryError for bars or a chorus that do not exist."""
    from cli.notation import shown_bars

    if chorus is not None:
        inside = [index for index, bar in enumerate(line.bars) if bar.chorus == chorus]
        if not inside:
            raise QueryError(f"there is no chorus {chorus}: the line has {line.bars[-1].chorus}")
        return range(inside[0], inside[-1] + 1)
    first, last = shown_bars(line, bars)
    return range(first, last + 1)


def what_is_told(database: "Database", entry: "Entry", line: "Transcription", bars: range) -> PageContents:
    """Everything a page tells about bars of a line; families are discovered unless they are kept already."""
    from cli.families import Teller, progress_bar
    from corpus.lesson.lesson import lesson_of
    from db.catalogue import Selection
    from db.recur import RecurQuestion, recur

    question = RecurQuestion()
    with progress_bar() as progress:
        discovered = recur(database, question, progress)
    with database.reading() as connection:
        teller = Teller(connection, question.settings, discovered, _LOOKED_AT)
        found = {number: _family(teller, number, entry.id) for number in _standing_in(teller, entry.id)}
        lesson = lesson_of(line, list(found.values()), bars)
        stock = _stock(connection, teller, lesson, found)
        profile, remarks = short_profile(connection, Selection(ids=(entry.id,)))
    told = bar_remarks(line, bars)
    return PageContents(lesson, stock, told, profile, remarks, discovered.line_count, discovered.note_count)


def bar_remarks(line: "Transcription", bars: range) -> tuple[BarRemarks, ...]:
    """What ``reading`` says about the bars shown, but the figures and implied chords that the page tells elsewhere."""
    from corpus.lesson.schedule import bar_name
    from corpus.lesson.signs import with_signs
    from corpus.reading.account import account

    sentences: dict[int, list[str]] = {}
    for chorus in sorted({line.bars[index].chorus for index in bars}):
        for remark in account(line, chorus).remarks:
            if remark.bar_index in bars and remark.kind not in ("figure", "implied"):
                text = with_signs(f"{remark.text[:1].upper()}{remark.text[1:]}.")
                sentences.setdefault(remark.bar_index, []).append(text)
    return tuple(BarRemarks(bar_name(line.bars[index]), tuple(texts)) for index, texts in sorted(sentences.items()))


def _standing_in(teller: "Teller", identity: int) -> list[int]:
    """Families (by number) that have places in a line."""
    families = teller.discovered.families
    return [n for n, family in enumerate(families) if any(p.transcription == identity for p in family.places)]


def _family(teller: "Teller", number: int, identity: int) -> "FoundFamily":
    from corpus.lesson.figures import FoundFamily

    family = teller.discovered.families[number]
    told: Told = teller.told(family, _ELSEWHERE + 1)
    here = [
        hit.occurrence for hit in teller.hits.hits(family, [p for p in family.places if p.transcription == identity])
    ]
    elsewhere = [_place_words(hit) for hit in told.hits if hit.entry.id != identity][:_ELSEWHERE]
    typical = told.typical.transcription.notes[told.typical.occurrence.first : told.typical.occurrence.last + 1]
    return FoundFamily(
        [note.spelling for note in typical],
        here,
        family.count,
        len(told.tunes),
        len([player for player in told.players if player]),
        told.labels,
        told.portrait.words(),
        dict(told.portrait.disguises.most_common()),
        elsewhere,
    )


def _place_words(hit: "Hit") -> str:
    """A place in another line: title, player, bar, section."""
    from cli.output import bar_text, hit_fields
    from corpus.text import clean_text

    fields = hit_fields(hit)
    details = hit.entry.details
    by = f", {clean_text(details.player)}" if details.player else ""
    section = f" (section {clean_text(fields['section'])})" if fields["section"] else ""
    return f"{clean_text(details.title)}{by}: bar {bar_text(fields['bar'], fields['pass'])}{section}"


def _stock(
    connection: "sa.Connection", teller: "Teller", lesson: "Lesson", found: "dict[int, FoundFamily]"
) -> tuple[Stock, ...]:
    """The families that two players or more hold, those of most players first."""
    from corpus.lesson.signs import with_signs
    from db.recur import spread

    by_notes = {figure.family: figure for figure in lesson.figures}
    rows = []
    for number, family in enumerate(teller.discovered.families):
        lines = spread(connection, family)
        players, tunes = ({name for name in names if name} for names in list(zip(*lines, strict=True))[:2])
        if len(players) < 2:
            continue
        figure = by_notes.get(list(found).index(number)) if number in found else None
        hit = teller.hits.typical(family)
        notes = hit.transcription.notes[hit.occurrence.first : hit.occurrence.last + 1]
        rows.append(
            Stock(
                figure.letter if figure else "",
                with_signs(" ".join(note.spelling or "x" for note in notes)),
                "; ".join(figure.labels) if figure else "",
                family.count,
                len(tunes),
                len(players),
                len(figure.places) if figure else 0,
            )
        )
    rows.sort(key=lambda row: (-row.players, -row.tunes, -row.places))
    return tuple(rows[:_STOCK])


def short_profile(
    connection: "sa.Connection", selection: "Selection"
) -> tuple[tuple[ProfileRow, ...], tuple[str, ...]]:
    """The few figures of a profile that say most about lines, and remarks on how far they can be trusted."""
    from corpus.lesson.signs import with_signs
    from corpus.profile.profile import remarks_on, samples_of
    from corpus.profile.samples import measure
    from corpus.profile.sentences import value_words
    from db.profile_lines import selected_lines

    columns = selected_lines(connection, selection).columns
    wanted = [sample for sample in samples_of(columns) if sample.key in _PROFILED and sample.n]
    measures = sorted((measure(sample, columns) for sample in wanted), key=lambda m: _PROFILED.index(m.key))
    rows = tuple(
        ProfileRow(
            found.words,
            with_signs(value_words(found, found.value)),
            with_signs(f"{value_words(found, found.low)} to {value_words(found, found.high)}"),
            found.n,
        )
        for found in measures
    )
    return rows, tuple(remarks_on(columns))
