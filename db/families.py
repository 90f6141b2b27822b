"""Families as they are kept: places by line and note, packed as compressed JSON, and the code they are known by."""

import hashlib
import json
import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import log
from typing import TYPE_CHECKING

from corpus.match.alignment import Notes, notes_of
from corpus.match.exact import Occurrence
from corpus.match.figure import Figure, figure_from_notes_of
from corpus.match.near import NearLine
from corpus.match.sought import NO_LETTERS, Sought, sought
from corpus.model import Transcription
from corpus.readings import line_of
from corpus.recur.corpus_text import TextReading
from corpus.recur.settings import DiscoverySettings, Found, Member

if TYPE_CHECKING:
    from corpus.match.columns import Numbers
    from db.recur_lines import RecurLines

_FORMAT = 1


@dataclass(frozen=True, slots=True)
class FamilyPlace:
    """An occurrence of a family: a line and the notes from ``first`` to ``last``, repeats counted.

    ``searched`` are the same notes in the line as it was searched (doubles collapsed or not); ``parts`` the price in
    thousandths; ``away`` and ``letter`` as in ``corpus.recur.settings.Member``. A replay is told, and does not count.
    """

    transcription: int
    first: int
    last: int
    searched: tuple[int, int]
    parts: int
    is_replay: bool
    away: int
    letter: int


@dataclass(frozen=True, slots=True)
class KeptFamily:
    """A family of a selection: its code, typical form, places (by line and note), and what chance says of it.

    ``code`` follows from the typical form alone, so that the same figure bears it in every discovery. ``information``
    is what a place holds in nats, ``surprise`` what the family saves in bits, ``expected`` how often chance would give
    the typical form, ``covered`` the notes of its places.
    """

    code: str
    typical: FamilyPlace
    places: tuple[FamilyPlace, ...]
    intervals: tuple[int, ...]
    reading: TextReading
    information: float
    surprise: float
    expected: float

    @property
    def count(self) -> int:
        """How many places count: all but replays."""
        return sum(not place.is_replay for place in self.places)

    @property
    def covered(self) -> int:
        """Notes of all places."""
        return sum(place.last - place.first + 1 for place in self.places)


def code_of(reading: TextReading, intervals: Sequence[int]) -> str:
    """Six hexadecimal digits that follow from the typical form."""
    return hashlib.sha256(f"{reading} {' '.join(map(str, intervals))}".encode()).hexdigest()[:6]


def kept_family(found: Found, lines: "RecurLines") -> KeptFamily:
    """A family as found in columns, its places by line and note.

    The typical form stands where it is played with the fewest repeats, the earliest of equals.
    """
    heights = lines.lines.columns.heights
    intervals = tuple(_intervals(heights, *found.typical))
    *places, typical = _places(lines, [*found.members, Member(*found.typical)])
    plain = [
        place
        for place, member in zip(places, found.members, strict=True)
        if member.parts == 0 and tuple(_intervals(heights, member.first, member.last)) == intervals
    ]
    return KeptFamily(
        code_of(found.reading, intervals),
        min(plain, key=lambda place: place.last - place.first, default=typical),
        tuple(places),
        intervals,
        found.reading,
        found.information,
        found.surprise / log(2),
        found.expected,
    )


def _intervals(heights: "Numbers", first: int, last: int) -> list[int]:
    played: list[int] = heights[first : last + 1].tolist()
    return [after - before for before, after in pairwise(played)]


def _places(lines: "RecurLines", members: Sequence[Member]) -> list[FamilyPlace]:
    import numpy as np

    ends = np.array([(member.first, member.last) for member in members], dtype=np.int64)
    return [
        FamilyPlace(identity, first, last, (begin, end), member.parts, member.is_replay, member.away, member.letter)
        for member, (identity, first, last, begin, end) in zip(
            members, lines.stretches(ends[:, 0], ends[:, 1]), strict=True
        )
    ]


def pack_family(family: KeptFamily) -> bytes:
    """A family as bytes."""
    columns = [
        [p.transcription, p.first, p.last, *p.searched, p.parts, int(p.is_replay), p.away, p.letter]
        for p in (family.typical, *family.places)
    ]
    figures = family.information, family.surprise, family.expected
    content = [_FORMAT, family.code, family.intervals, family.reading, *figures, columns]
    return zlib.compress(json.dumps(content, separators=(",", ":")).encode(), 6)


def unpack_family(packed: bytes) -> KeptFamily:
    """The family that ``pack_family`` packed."""
    _, code, intervals, reading, *figures, columns = json.loads(zlib.decompress(packed))
    typical, *places = (
        FamilyPlace(identity, first, last, (begin, end), parts, bool(is_replay), away, letter)
        for identity, first, last, begin, end, parts, is_replay, away, letter in columns
    )
    return KeptFamily(code, typical, tuple(places), tuple(intervals), reading, *figures)


KnownNotes = dict[tuple[int, str, bool], Notes]
"""Notes as near search compares them, by line, alphabet, and whether repeats are taken out."""


class FamilyFigure:
    """The typical form of a family as a figure, and its places as occurrences with their changes.

    ``known`` keeps the notes of lines for all families of one settings, since many stand in the same lines.
    """

    def __init__(
        self, family: KeptFamily, typical_line: Transcription, settings: DiscoverySettings, known: KnownNotes
    ) -> None:
        self.family = family
        self.figure: Figure = figure_from_notes_of(typical_line, family.typical.first, family.typical.last)
        self._sought: Sought = sought(self.figure, settings.folds, settings.prices)
        self._by_pitch = family.reading not in ("degree", "role")
        self._known = known

    def occurrence(self, place: FamilyPlace, line: Transcription) -> Occurrence:
        """A place as an occurrence, its changes told where the family is one of pitches."""
        plain = Occurrence(place.first, place.last, None)
        if not self._by_pitch:
            return plain
        near = NearLine(self._sought, line, notes=self._notes(place.transcription, line))
        # With its price for a limit next to nothing has to be looked at; what a reading has unchanged may be dearer.
        found = None
        for most in (place.parts, self._sought.most_parts(0)):
            found = found or near.place_between(place.searched, most, place.away, self._letter(place.letter))
        return replace(plain, likeness=0.0) if found is None else near.occurrence(found)

    def _notes(self, identity: int, line: Transcription) -> Notes:
        key = (identity, self._sought.alphabet, self._sought.is_collapsed)
        if key not in self._known:
            self._known[key] = notes_of(line_of(line), self._sought)
        return self._known[key]

    def _letter(self, letter: int) -> int:
        """How the letters are transposed, told of a figure that begins on letter 0, for this one."""
        if not self._sought.letters_matter or letter == NO_LETTERS:
            return letter
        return (letter + (self._sought.elements[0].position or 0)) % 7
