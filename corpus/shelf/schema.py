"""The shelf file as a JSON Schema (draft 2020-12): what ``wellworn shelf schema`` prints and imports are held to.

The schema stands here as a value and not as a second description beside a reader of our own: the ``jsonschema`` library
checks with it, other programs can, and the documentation is generated from the same text. What a schema cannot say
(note names, keys, rising onsets, names that come twice, days to come) ``corpus.shelf.file`` checks afterwards.
"""

from typing import Any, Final

from corpus.match.figure import LONGEST_FIGURE_NOTES
from corpus.model import TICKS_PER_QUARTER
from corpus.shelf.kept import (
    BEST_GRADE,
    BEST_RATING,
    LEAST_BPM,
    LONGEST_COMMENT,
    LONGEST_NAME,
    LONGEST_TAG,
    LONGEST_TICKS,
    MOST_BPM,
    MOST_CHORDS,
    MOST_ENTRIES,
    MOST_SOURCES,
    MOST_TAGS,
)
from corpus.text import LONGEST_TEXT

FORMAT: Final = "wellworn shelf"
VERSION: Final = 1
"""The version of the file that this wellworn writes, and the newest that it reads."""
MOST_FIGURES: Final = 20_000

_SPELLING: Final = r"^[A-G](bb?|##?)?-?[0-9]$"
_DAY: Final = r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$"
_BEAT: Final = r"^[1-9][0-9]{0,6}(/[1-9][0-9]{0,4})?$"


def _text(longest: int, about: str, shortest: int = 0) -> dict[str, Any]:
    return {"type": "string", "minLength": shortest, "maxLength": longest, "description": about}


def _whole(least: int, most: int, about: str) -> dict[str, Any]:
    return {"type": "integer", "minimum": least, "maximum": most, "description": about}


def _list(items: dict[str, Any], most: int, about: str, least: int = 0) -> dict[str, Any]:
    return {"type": "array", "minItems": least, "maxItems": most, "items": items, "description": about}


def _object(required: tuple[str, ...], **properties: dict[str, Any]) -> dict[str, Any]:
    return {"type": "object", "required": list(required), "additionalProperties": False, "properties": properties}


def _pattern(pattern: str, about: str) -> dict[str, Any]:
    return {"type": "string", "pattern": pattern, "maxLength": LONGEST_TEXT, "description": about}


_NOTE: Final = _object(
    ("spelling",),
    spelling=_pattern(_SPELLING, "Letter, accidentals (b, #) and octave at sounding pitch; C4 is middle C."),
    onset=_whole(0, LONGEST_TICKS, "Ticks from the first note; left out in figures without rhythm."),
    duration=_whole(1, LONGEST_TICKS, "Ticks."),
)
_CHORD: Final = _object(
    (),
    onset=_whole(0, LONGEST_TICKS, "Ticks from the first note; left out where nobody said."),
    symbol=_text(LONGEST_TEXT, "Chord symbol as written."),
    numeral=_text(40, "Function as a Roman numeral, such as ii, V/ii, subV."),
    key=_text(40, "Key in which the function counts: Bb, Cm, D dorian."),
)
_SOURCE: Final = _object(
    ("title", "passage", "notes"),
    title=_text(LONGEST_TEXT, "Tune."),
    player=_text(LONGEST_TEXT, "Player."),
    passage=_text(LONGEST_TEXT, "Bar:beat to bar:beat, as wellworn shows passages."),
    notes=_list(_pattern(_SPELLING, "A note."), LONGEST_FIGURE_NOTES, "What was played there."),
)
_PRACTICE: Final = _object(
    ("day", "bpm"),
    day=_pattern(_DAY, "Year-month-day."),
    bpm={"type": "number", "minimum": LEAST_BPM, "maximum": MOST_BPM, "description": "Quarters a minute."},
    keys=_list(_text(40, "A key: Bb, Cm.", 1), 50, "Keys played."),
    grade=_whole(0, BEST_GRADE, "How well it came back: 0 forgotten to 5 perfect."),
)
_FIGURE: Final = _object(
    ("name", "notes"),
    name=_text(LONGEST_NAME, "The user's name for it; no two in a file, upper and lower case alike.", 1),
    notes=_list(_NOTE, LONGEST_FIGURE_NOTES, "The notes in order; all with onset and duration, or none.", 2),
    chords=_list(_CHORD, MOST_CHORDS, "The chords under it, in order."),
    key=_text(40, "Key where it begins."),
    meter=_pattern(r"^[1-9][0-9]?/(1|2|4|8|16|32|64)$", "Meter where it came from, such as 4/4."),
    beat=_pattern(_BEAT, "Beat of the first note, from 1, as a fraction: 4, 7/2."),
    tags=_list(_text(LONGEST_TAG, "A tag.", 1), MOST_TAGS, "Tags."),
    rating=_whole(1, BEST_RATING, "The user's rating."),
    comment=_text(LONGEST_COMMENT, "Free text; may have several lines."),
    family=_text(LONGEST_NAME, "Name for figures that are one in different dress."),
    kept=_pattern(_DAY, "The day it was kept."),
    sources=_list(_SOURCE, MOST_SOURCES, "Where it came from."),
    practice=_list(_PRACTICE, MOST_ENTRIES, "When it was practised; written only on request."),
)


def shelf_schema() -> dict[str, Any]:
    """The schema of a whole file."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Shelf of wellworn",
        "description": "Figures that a player keeps: notes, rhythm, chord functions, tags, where they came from.",
        **_object(
            ("format", "version", "ticks_per_quarter", "figures"),
            format={"const": FORMAT},
            version={"const": VERSION},
            ticks_per_quarter={"const": TICKS_PER_QUARTER, "description": "Ticks of a quarter note."},
            notice=_text(LONGEST_COMMENT, "A word about rights, for people."),
            figures=_list(_FIGURE, MOST_FIGURES, "The figures."),
        ),
    }
