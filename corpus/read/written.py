"""A line as it stands on the page, before repeats are played out: what every reader hands on.

Readers fill these values in; ``corpus.read.assemble`` turns them into a ``Transcription``. Offsets count ticks from
the start of the bar they stand in.
"""

import re
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Literal

from corpus.errors import QueryError
from corpus.model import Details, Finding, Meter, Ornament
from corpus.pitch import Key
from corpus.read.midi_wishes import MidiWishes

if TYPE_CHECKING:
    from corpus.harmony.chart_text import Chart

Jump = Literal["da capo", "dal segno"]


@dataclass(frozen=True, slots=True)
class WrittenNote:
    """A note head as written: sounding pitch (None for a dead note) and sounding spelling, ties not yet merged."""

    offset_ticks: int
    duration_ticks: int
    pitch: int | None
    spelling: str
    tied_to_next: bool = False
    is_ghost: bool = False
    ornaments: tuple[Ornament, ...] = ()


@dataclass(frozen=True, slots=True)
class WrittenChord:
    """A chord symbol's text and its place in the bar; the text ``N.C.`` means no chord."""

    offset_ticks: int
    symbol: str


@dataclass(frozen=True, slots=True)
class WrittenBar:
    """A bar on the page, with the repeat signs and marks that steer how it is played.

    ``times`` is how often a repeat that ends here is played in all (0: none ends here). ``endings`` are the passes
    in which the bar is played (empty: in all of them); ``starts_ending`` tells where a bracket begins.
    ``closes_ending`` is True on the last bar of a bracket. ``is_pickup`` marks a first, incomplete bar.
    ``segno_name`` and ``segno_wanted`` pair a segno with the jump to it where a page has several;
    ``jump_with_repeats`` says that repeats are taken again after the jump.
    """

    number: int
    meter: Meter
    length_ticks: int
    notes: tuple[WrittenNote, ...] = ()
    chords: tuple[WrittenChord, ...] = ()
    section: str | None = None
    key: Key | None = None
    is_pickup: bool = False
    starts_repeat: bool = False
    times: int = 0
    endings: tuple[int, ...] = ()
    starts_ending: bool = False
    closes_ending: bool = False
    segno: bool = False
    coda: bool = False
    fine: bool = False
    to_coda: bool = False
    jump: Jump | None = None
    segno_name: str = ""
    segno_wanted: str = ""
    jump_with_repeats: bool = False


@dataclass(frozen=True, slots=True)
class WrittenLine:
    """One voice of one part as written, with its details and the reader's remarks.

    ``part_order`` lists section labels in the order in which they are played, where the file says so (ABC ``P:`` in
    the header); empty otherwise.
    """

    details: Details
    bars: tuple[WrittenBar, ...]
    findings: tuple[Finding, ...] = ()
    part_order: tuple[str, ...] = ()


Voice = Literal["top", "bottom"]


@dataclass(frozen=True, slots=True)
class ReadingWishes:
    """What the user asks of the readers.

    ``part`` names a part by number (from 1) or name; ``voice`` says which of several simultaneous notes is the line.
    ``details`` fills in what a file does not say; ``chart`` is laid over a line without chords; ``midi`` concerns MIDI
    files only.
    """

    part: str | None = None
    voice: Voice = "top"
    details: Details = field(default_factory=Details)
    chart: "Chart | None" = None
    midi: MidiWishes = field(default_factory=MidiWishes)


def fill_details(from_file: Details, from_user: Details) -> Details:
    """The file's details, with the user's where the file says nothing."""
    gaps = {
        name: getattr(from_user, name)
        for name in Details.__dataclass_fields__
        if getattr(from_file, name) in (None, "") and getattr(from_user, name) not in (None, "")
    }
    return replace(from_file, **gaps)


def parse_meter(text: str) -> Meter:
    """Read a meter such as ``4/4`` or ``C``. Raises QueryError for anything else."""
    named = {"C": "4/4", "C|": "2/2"}
    match = re.fullmatch(r"(\d{1,2})\s*/\s*(1|2|4|8|16|32|64)", named.get(text.strip(), text.strip()))
    if match is None or int(match[1]) == 0:
        raise QueryError(f"unknown meter {text!r}: write beats and note value, as in 4/4 or 6/8")
    return Meter(int(match[1]), int(match[2]))
