"""A kept figure: what the player thought worth having, with where it came from and how it was practised.

Conventions:

- Notes are spelled at sounding pitch. Onsets count in ticks from the first note; a figure without rhythm has none.
- Chords are those under the figure, their onsets in ticks from the first note (or none), each with its function as a
  Roman numeral and the key in which that counts.
- Names and tags are compared without regard to case. Dates are days of the user's calendar.

Values are checked where they are made: whatever becomes a ``KeptFigure`` can be stored, written and searched for.
"""

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from difflib import get_close_matches
from fractions import Fraction
from typing import Final

from corpus.errors import QueryError
from corpus.harmony.numerals import parse_numeral
from corpus.match.figure import LONGEST_FIGURE_NOTES, Figure, Folds
from corpus.model import TICKS_PER_QUARTER, Meter
from corpus.pitch import Key, parse_key, parse_spelling
from corpus.text import LONGEST_TEXT, clean_text

LONGEST_NAME: Final = 80
LONGEST_TAG: Final = 40
LONGEST_COMMENT: Final = 4000
MOST_TAGS: Final = 50
MOST_CHORDS: Final = 1000
MOST_SOURCES: Final = 1000
MOST_ENTRIES: Final = 100_000
LEAST_BPM: Final = 10
MOST_BPM: Final = 999
BEST_RATING: Final = 5
BEST_GRADE: Final = 5
LONGEST_TICKS: Final = 1000 * TICKS_PER_QUARTER
"""A figure may last a thousand quarters, and so may a note of it."""
_LEFT_OUT: Final = ("Cc", "Cf", "Cs", "Co", "Cn")


@dataclass(frozen=True, slots=True)
class KeptNote:
    """A note: spelling with octave (sounding), and where rhythm is known onset from the first note and length."""

    spelling: str
    onset_ticks: int | None = None
    duration_ticks: int | None = None

    @property
    def pitch(self) -> int:
        """The sounding MIDI number."""
        pitch = parse_spelling(self.spelling).pitch
        assert pitch is not None
        return pitch


@dataclass(frozen=True, slots=True)
class KeptChord:
    """A chord under a figure: symbol, numeral and key may each be empty; ``onset_ticks`` may be before the first note.

    Chords that were typed without a place have no onset; they follow each other.
    """

    symbol: str = ""
    numeral: str = ""
    key: str = ""
    onset_ticks: int | None = None


@dataclass(frozen=True, slots=True)
class KeptSource:
    """Where a figure came from, in words that stay when the line is gone: tune, player, passage, notes played there.

    ``transcription``, ``first`` and ``last`` link to the stored line; they mean nothing outside one database, and are
    None where there is no line.
    """

    title: str
    player: str
    passage: str
    notes: tuple[str, ...]
    transcription: int | None = None
    first: int | None = None
    last: int | None = None

    @property
    def words(self) -> tuple[str, str, str, tuple[str, ...]]:
        """What stays of it without a database."""
        return self.title, self.player, self.passage, self.notes


@dataclass(frozen=True, slots=True)
class Practice:
    """A figure practised: the day, quarters a minute, keys (``Bb``, ``Cm``), how well it went (0 to 5) if it was said.

    The grades are those of the spaced repetition: see ``corpus.shelf.repetition``.
    """

    day: date
    bpm: float
    keys: tuple[str, ...] = ()
    grade: int | None = None

    def __post_init__(self) -> None:
        if not LEAST_BPM <= self.bpm <= MOST_BPM:
            raise QueryError(f"tempo {self.bpm:g} cannot be practised at: give {LEAST_BPM} to {MOST_BPM} a minute")
        if self.grade is not None and not 0 <= self.grade <= BEST_GRADE:
            raise QueryError(f"grade {self.grade} is none: give 0 (forgotten) to {BEST_GRADE} (perfect)")


@dataclass(frozen=True, slots=True)
class KeptFigure:
    """A figure on the shelf. ``family`` is the user's name for figures that are one in different dress.

    ``beat`` and ``meter`` say where in which bar the figure began where it came from. Raises QueryError for a name,
    rating or notes that cannot be kept.
    """

    name: str
    notes: tuple[KeptNote, ...]
    chords: tuple[KeptChord, ...] = ()
    key: str = ""
    meter: Meter | None = None
    beat: Fraction | None = None
    tags: tuple[str, ...] = ()
    rating: int | None = None
    comment: str = ""
    family: str = ""
    kept_on: date | None = None
    sources: tuple[KeptSource, ...] = ()
    practice: tuple[Practice, ...] = field(default=())

    def __post_init__(self) -> None:
        if not self.name:
            raise QueryError("a kept figure needs a name")
        if self.rating is not None and not 1 <= self.rating <= BEST_RATING:
            raise QueryError(f"rating {self.rating} is none: give 1 to {BEST_RATING}")
        for what, count, most in (
            ("tags", len(self.tags), MOST_TAGS),
            ("chords", len(self.chords), MOST_CHORDS),
            ("sources", len(self.sources), MOST_SOURCES),
            ("entries in the practice log", len(self.practice), MOST_ENTRIES),
        ):
            if count > most:
                raise QueryError(f"{count:,} {what} are too many for a figure: at most {most:,}")
        _check_notes(self.notes)

    @property
    def id_name(self) -> str:
        """The name by which figures are told apart: without regard to case."""
        return folded_name(self.name)

    @property
    def has_rhythm(self) -> bool:
        """Whether the notes have onsets and lengths."""
        return self.notes[0].onset_ticks is not None

    @property
    def spellings(self) -> tuple[str, ...]:
        """The names of the notes."""
        return tuple(note.spelling for note in self.notes)

    @property
    def figure(self) -> Figure:
        """The figure as a question."""
        onsets = tuple(note.onset_ticks for note in self.notes if note.onset_ticks is not None)
        return Figure(
            text=" ".join(self.spellings),
            pitches=tuple(note.pitch for note in self.notes),
            positions=tuple(parse_spelling(note.spelling).staff_position for note in self.notes),
            octave_known=(True,) * len(self.notes),
            onsets=onsets or None,
            beat=self.beat,
            meter=self.meter,
            is_absolute=True,
        )

    @property
    def folds(self) -> Folds:
        """What is ignored when the shelf looks for places of a figure: octaves, and doubles where any note differs."""
        return Folds(octaves=True, doubles=len(self.figure.run_starts()) > 1)


def _check_notes(notes: tuple[KeptNote, ...]) -> None:
    if not 2 <= len(notes) <= LONGEST_FIGURE_NOTES:
        raise QueryError(f"a kept figure has 2 to {LONGEST_FIGURE_NOTES} notes, not {len(notes)}")
    timed = [note for note in notes if note.onset_ticks is not None]
    if timed and len(timed) != len(notes):
        raise QueryError("either all notes of a figure have an onset, or none")
    before = -1
    for number, note in enumerate(notes, start=1):
        if parse_spelling(note.spelling).pitch is None:
            raise QueryError(f"note {number}, {note.spelling}, needs an octave")
        if not 0 <= note.pitch <= 127:
            raise QueryError(f"note {number}, {note.spelling}, is out of every range (C-1 to G9)")
        if (note.onset_ticks is None) != (note.duration_ticks is None):
            raise QueryError(f"note {number}, {note.spelling}, needs both onset and duration, or neither")
        if note.onset_ticks is None or note.duration_ticks is None:
            continue
        if (number == 1 and note.onset_ticks != 0) or note.onset_ticks <= before:
            raise QueryError(f"note {number}, {note.spelling}: onsets begin at 0 and rise from note to note")
        if not 0 < note.duration_ticks <= LONGEST_TICKS or note.onset_ticks > LONGEST_TICKS:
            raise QueryError(f"note {number}, {note.spelling}, lasts nothing or too long")
        before = note.onset_ticks


def folded_name(name: str) -> str:
    """A name as figures are told apart by: in one normal form, without regard to case."""
    return unicodedata.normalize("NFC", name).casefold()


def clean_name(text: str, what: str = "name") -> str:
    """A name fit to print and to type. Raises QueryError when nothing is left of it, or it is too long."""
    name = unicodedata.normalize("NFC", clean_text(text))
    if not name:
        raise QueryError(f"the {what} {text[:LONGEST_NAME]!r} holds nothing that can be printed: give another")
    longest = LONGEST_NAME if what == "name" else LONGEST_TAG
    if len(name) > longest:
        raise QueryError(f"the {what} {name[:30]!r}… is too long: at most {longest} characters")
    return name


def clean_tags(tags: Iterable[str]) -> tuple[str, ...]:
    """Tags in order of the alphabet, each once; commas part tags. Raises QueryError for an empty or a long one."""
    words = [clean_name(word, "tag") for tag in tags for word in tag.split(",")]
    by_name = {folded_name(word): word for word in reversed(words)}
    return tuple(by_name[name] for name in sorted(by_name))


def clean_comment(text: str) -> str:
    """Free text with its lines, without anything that a terminal would obey. Raises QueryError when it is too long."""
    if len(text) > LONGEST_COMMENT:
        raise QueryError(f"a comment of {len(text):,} characters is too long: at most {LONGEST_COMMENT:,}")
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    kept = (
        "".join(c for c in line.replace("\t", " ") if unicodedata.category(c) not in _LEFT_OUT).rstrip()
        for line in lines
    )
    return "\n".join(kept).strip("\n")


def clean_word(text: str) -> str:
    """A title, player or passage, cleaned and cut to the length of all texts."""
    return clean_text(text)[:LONGEST_TEXT]


def clean_numeral(text: str) -> str:
    """A numeral as it is written; empty for none. Raises QueryError for an unknown one."""
    return str(parse_numeral(text)) if text.strip() else ""


def short_key(key: Key) -> str:
    """A key as it is typed: ``Bb``, ``Cm``, ``D dorian``."""
    return {"major": key.tonic, "minor": f"{key.tonic}m"}.get(key.mode, str(key))


def clean_key(text: str) -> str:
    """A key as it is typed; empty for none. Raises QueryError for an unknown one."""
    return short_key(parse_key(text)) if text.strip() else ""


def named(figures: Iterable[KeptFigure], name: str) -> KeptFigure:
    """The figure of a name, upper and lower case alike.

    Raises QueryError when there is none, naming those that come near.
    """
    by_name = {figure.id_name: figure for figure in figures}
    wanted = folded_name(clean_name(name))
    if wanted in by_name:
        return by_name[wanted]
    close = [name for name in by_name if wanted in name] + get_close_matches(wanted, by_name, n=3, cutoff=0.55)
    near = [by_name[name].name for name in dict.fromkeys(close)][:3]
    cure = f"did you mean {' or '.join(map(repr, near))}?" if near else "'wellworn shelf list' shows the names"
    raise QueryError(f"there is no figure {clean_name(name)!r} on the shelf: {cure}")
