"""Tables: rows of plain values (text, numbers, yes or no), and what each column means, with its unit.

Rows are made one after the other while they are written: of the corpus, only some hundred lines are in memory.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal

import sqlalchemy as sa

from db.catalogue import Selection, load_entries
from db.fields import all_note_fields, entry_fields, hit_fields
from db.recur import Discovered, FamilyHits, RecurQuestion
from db.search import Hit

if TYPE_CHECKING:
    from db.families import KeptFamily

_AT_ONCE: Final = 200
Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its name, the kind of its values, and what they mean. An empty place means: not known, or none."""

    name: str
    kind: Literal["text", "integer", "number", "flag"]
    meaning: str


def _columns(text: str) -> tuple[Column, ...]:
    kinds: dict[str, Literal["text", "integer", "number", "flag"]] = {
        "t": "text",
        "i": "integer",
        "n": "number",
        "f": "flag",
    }
    rows = (line.split(maxsplit=2) for line in text.strip().splitlines())
    return tuple(Column(name, kinds[kind], meaning) for name, kind, meaning in rows)


_LINE: Final = """
transcription i the line's ID ('wellworn list')
title t the tune
player t who plays
collection t the collection it was added to
"""
_LINE_NAMES: Final = ("transcription", "title", "player", "collection")
LINE_COLUMNS: Final = _columns(
    f"""{_LINE.rstrip()}
source t the file it came from
instrument t the instrument
recording t the recording
year i year of the recording
tempo n quarters a minute
key t key of the line
meter t the first meter
form t one chorus: sections with their lengths in bars
bars i bars as played
notes i notes
"""
)
NOTE_COLUMNS: Final = _columns(
    f"""{_LINE.rstrip()}
index i place of the note in its line, from 0
bar i the bar's number on the page; 0 is a pickup
pass i how often the written bar has been reached, from 1
chorus i chorus, from 1
section t section of the form
beat n beat in the bar, from 1, in the note value of the meter's lower number
onset n quarters from the start of the line as played
duration n quarters
pitch i sounding MIDI number (60 is C4); empty for a dead note
spelling t sounding pitch as spelled
chord t chord symbol in force
numeral t its function in the local key
key t the local key
degree t degree of the note in the local key
chord_degree t degree of the note in its chord
role t chord tone, scale tone, outside
movement t what it does to the next strong note: approach, enclosure, passing …
ghost f a ghost note
dead f a dead note: rhythm without pitch
grace t grace notes before it, as spelled
"""
)
FAMILY_COLUMNS: Final = _columns(
    """
family t the family's code, the same in every discovery of the figure
rank i place among the families, best first, from 1
places i occurrences, exact replays of a long stretch left out
replays i occurrences inside replays
covered i notes of all places
length i notes of the typical form
intervals t typical form: semitones between neighbours, as a JSON array (doubles collapsed)
reading t in which reading it recurs
notes t typical form as spelled where it stands
transcription i the line in which the typical form stands
first i its first note there, from 0
last i its last note there
information n nats that a place holds under the chance of a chain of first order
surprise n bits that naming the figure saves
expected n places that chance alone would give the typical form
"""
)
OCCURRENCE_COLUMNS: Final = _columns(
    f"""
family t the family's code
rank i place of the family, best first, from 1
{_LINE.strip()}
source t the file it came from
first i first note in the line, from 0
last i last note in the line
chorus i chorus, from 1
section t section of the form
bar i the bar's number on the page
pass i how often the written bar has been reached, from 1
beat n beat in the bar, from 1
transposed i semitones above the typical form; empty where it has no pitch of its own
likeness n 0 to 1; 1 is the typical form itself
replay f part of a long stretch that was there before
changes t what was changed, in words
notes t notes as spelled
chords t chord symbols under it
"""
)
FOUND_COLUMNS: Final = tuple(
    Column(column.name, column.kind, "semitones above the figure asked for; empty where it has no pitch")
    if column.name == "transposed"
    else Column(column.name, column.kind, "0 to 1; 1 is the figure itself")
    if column.name == "likeness"
    else column
    for column in OCCURRENCE_COLUMNS
    if column.name not in ("family", "rank", "replay")
)
"""The columns of places that ``find`` has found."""


def hit_rows(hits: Iterable[Hit]) -> Iterator[Row]:
    """A row a place that was found."""
    return (hit_fields(hit) for hit in hits)


def line_rows(connection: sa.Connection, selection: Selection) -> Iterator[Row]:
    """A row a line."""
    for _, (entry, _) in _loaded(connection, selection):
        details = entry.details
        yield {
            **entry_fields(entry),
            "instrument": details.instrument or None,
            "recording": details.recording or None,
            "year": details.year,
            "tempo": details.tempo_bpm,
            "form": str(details.form) if details.form else None,
        }


def note_rows(connection: sa.Connection, selection: Selection) -> Iterator[Row]:
    """A row a note, with all its roles; with a section, the notes that begin in one of that name."""
    for _, (entry, transcription) in _loaded(connection, selection):
        line = {name: value for name, value in entry_fields(entry).items() if name in _LINE_NAMES}
        for note, fields in zip(transcription.notes, all_note_fields(transcription), strict=True):
            section = transcription.section_at(note.onset_ticks)
            label = section.label if section else None
            if not selection.section or (label or "").casefold() == selection.section.casefold():
                yield {**line, **fields, "section": label}


def family_rows(connection: sa.Connection, question: RecurQuestion, found: Discovered) -> Iterator[Row]:
    """A row a family, best first."""
    for rank, family in enumerate(found.families, start=1):
        typical = FamilyHits(connection, question.settings).typical(family)
        yield {
            "family": family.code,
            "rank": rank,
            "places": family.count,
            "replays": len(family.places) - family.count,
            "covered": family.covered,
            "length": len(family.intervals) + 1,
            "intervals": str(list(family.intervals)),
            "reading": family.reading,
            "notes": hit_fields(typical)["notes"],
            "transcription": family.typical.transcription,
            "first": family.typical.first,
            "last": family.typical.last,
            "information": round(family.information, 6),
            "surprise": round(family.surprise, 6),
            "expected": round(family.expected, 6),
        }


def occurrence_rows(connection: sa.Connection, question: RecurQuestion, found: Discovered) -> Iterator[Row]:
    """A row an occurrence of a family, families best first."""
    for rank, family in enumerate(found.families, start=1):
        for place, hit in _hits(connection, question, family):
            yield {**hit_fields(hit), "family": family.code, "rank": rank, "replay": place}


def _hits(connection: sa.Connection, question: RecurQuestion, family: "KeptFamily") -> Iterator[tuple[bool, Hit]]:
    for start in range(0, len(family.places), _AT_ONCE):
        places = family.places[start : start + _AT_ONCE]
        # Lines are kept by what is asked, so each part asks anew: no more lines than places are in memory.
        hits = FamilyHits(connection, question.settings).hits(family, places)
        yield from ((place.is_replay, hit) for place, hit in zip(places, hits, strict=True))


def _loaded(connection: sa.Connection, selection: Selection) -> Iterator[Any]:
    conditions, values = selection.conditions()
    where = f" WHERE {' AND '.join(conditions)}" if conditions else ""
    ids = connection.execute(sa.text(f"SELECT t.id FROM transcription t{where} ORDER BY t.id"), values).scalars().all()
    for start in range(0, len(ids), _AT_ONCE):
        yield from load_entries(connection, ids[start : start + _AT_ONCE])


Maker = Callable[[sa.Connection, Selection], Iterator[Row]]
FamilyMaker = Callable[[sa.Connection, RecurQuestion, Discovered], Iterator[Row]]

OF_LINES: Final[Mapping[str, tuple[Sequence[Column], Maker]]] = {
    "notes": (NOTE_COLUMNS, note_rows),
    "lines": (LINE_COLUMNS, line_rows),
}
OF_FAMILIES: Final[Mapping[str, tuple[Sequence[Column], FamilyMaker]]] = {
    "families": (FAMILY_COLUMNS, family_rows),
    "occurrences": (OCCURRENCE_COLUMNS, occurrence_rows),
}
