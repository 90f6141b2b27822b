"""Transcriptions as ABC tunes.

Source: the ABC standard 2.1. Lines stand at sounding pitch, in the octave in which the instrument's players read them
(``transpose=-12`` for a double bass). Repeats are written as played. An accidental is written wherever a reader could
be in doubt: where it differs from the signature, and where its letter was altered before in the bar. A chord symbol
that falls inside a note divides it by a tie.

Law, tested: reading what is written gives the same notes, chords, sections, meters and keys. Losses: ghost notes (ABC
has no sign for them); written bar numbers, passes and choruses, which the reader counts anew; the length of a dead note
beyond its first written value; keys of more than seven accidentals; remarks.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import Final

from corpus.model import TICKS_PER_QUARTER, Bar, Transcription
from corpus.pitch import LETTERS, Key, SpelledPitch, default_spelling, fifths_of, parse_spelling
from corpus.text import clean_text
from corpus.write.accidentals import signature
from corpus.write.instruments import Writing, writing_of
from corpus.write.musicxml import notes_by_bar
from corpus.write.values import Piece, written_bar

_UNIT_TICKS: Final = TICKS_PER_QUARTER // 2
"""``L:1/8``."""
_SIGNS: Final = {-2: "__", -1: "_", 0: "=", 1: "^", 2: "^^"}
_MODES: Final = {
    "major": "",
    "minor": "m",
    "ionian": "ion",
    "aeolian": "aeo",
    "dorian": "dor",
    "phrygian": "phr",
    "lydian": "lyd",
    "mixolydian": "mix",
    "locrian": "loc",
}
_BARS_A_LINE: Final = 4
_HEAD: Final = "%abc-2.1\n"


def abc_of(transcriptions: Sequence[Transcription]) -> str:
    """The transcriptions as one ABC file, a tune each, numbered from 1."""
    return _HEAD + "".join(f"\n{_Tune(line, number).text()}" for number, line in enumerate(transcriptions, start=1))


@dataclass(frozen=True, slots=True)
class _Placed:
    """A written sign with the chord symbols before it."""

    piece: Piece
    chords: tuple[str, ...]


class _Tune:
    """One tune, and the signature and accidentals in force while it is written."""

    def __init__(self, line: Transcription, number: int) -> None:
        self.line = line
        self.number = number
        self.writing: Writing = writing_of(line, concert=True)
        self.key: Key | None = None
        self.signature: dict[int, int] = {}
        self.altered: dict[int, int] = {}
        self.last_pitch = "D" if self.writing.clef == "bass" else "B"
        self.written: set[int] = set()

    def text(self) -> str:
        text = "".join([*self._header(), *self._body()])
        return "".join(f"{line.rstrip()}\n" for line in text.splitlines())

    def _header(self) -> Iterator[str]:
        details = self.line.details
        yield f"X:{self.number}\n"
        yield f"T:{_field(details.title)}\n"
        if clean_text(details.recording):
            yield f"D:{_field(details.recording)}\n"
        yield f"M:{self.line.bars[0].meter}\n"
        yield "L:1/8\n"
        if details.tempo_bpm is not None:
            yield f"Q:1/4={details.tempo_bpm:g}\n"
        own = {
            "player": details.player,
            "instrument": details.instrument,
            "year": "" if details.year is None else f"{details.year:04d}",
            "form": str(details.form or ""),
        }
        yield from (f"%%wellworn-{name} {_field(text)}\n" for name, text in own.items() if clean_text(text))
        octaves = f" transpose={12 * self.writing.octaves}" if self.writing.octaves else ""
        yield f"K:{self._take_key(self.line.bars[0].key)} clef={self.writing.clef}{octaves}\n"

    def _take_key(self, key: Key | None) -> str:
        """The name of a key, whose signature is in force from here on."""
        self.key = key
        fifths = None if key is None else fifths_of(key)
        if key is None or fifths is None or abs(fifths) > 7:
            self.signature = {}
            return "none"
        self.signature = signature(fifths)
        return key.tonic + _MODES[key.mode]

    # -- bars ------------------------------------------------------------------------------------------------------

    def _body(self) -> Iterator[str]:
        bars = self.line.bars
        by_bar = notes_by_bar(self.line, range(len(bars)))
        in_line = 0
        for index, bar in enumerate(bars):
            label = self._label(bar)
            if label:
                yield ("\n" if in_line else "") + f"P:{label}\n"
                in_line = 0
            yield self._changes(bar, bars[index - 1] if index else None)
            self.altered = {}
            signs = self._split_at_chords(written_bar(bar, by_bar.get(index, ())), bar)
            yield "".join(self._signs(signs, bar)).rstrip()
            end = bar.onset_ticks + bar.length_ticks
            is_last = index == len(bars) - 1
            is_double = any(section.onset_ticks == end for section in self.line.sections)
            yield " |]" if is_last else " ||" if is_double else " |"
            in_line = (in_line + 1) % _BARS_A_LINE
            yield "\n" if in_line == 0 or is_last else " "

    def _label(self, bar: Bar) -> str:
        end = bar.onset_ticks + bar.length_ticks
        found = [clean_text(s.label) for s in self.line.sections if bar.onset_ticks <= s.onset_ticks < end]
        return _field(found[-1]) if found else ""

    def _changes(self, bar: Bar, before: Bar | None) -> str:
        if before is None:
            return ""
        meter = f"[M:{bar.meter}]" if bar.meter != before.meter else ""
        return meter + (f"[K:{self._take_key(bar.key)}]" if bar.key != self.key else "")

    def _split_at_chords(self, pieces: Sequence[Piece], bar: Bar) -> list[_Placed]:
        end = bar.onset_ticks + bar.length_ticks
        chords = [
            (chord.onset_ticks - bar.onset_ticks + bar.padding_ticks, _quoted(chord.symbol))
            for chord in self.line.chords
            if bar.onset_ticks <= chord.onset_ticks < end and _quoted(chord.symbol)
        ]
        placed: list[_Placed] = []
        for piece in pieces:
            stop = piece.offset_ticks + piece.ticks
            inside = [at for at, _ in chords if piece.offset_ticks < at < stop]
            edges = [piece.offset_ticks, *inside, stop]
            for begin, finish in pairwise(edges):
                here = tuple(symbol for at, symbol in chords if at == begin)
                part = replace(piece, offset_ticks=begin, ticks=finish - begin, tied_to=piece.tied_to or finish < stop)
                placed.append(_Placed(part, here))
        return placed

    # -- notes -----------------------------------------------------------------------------------------------------

    def _signs(self, signs: Sequence[_Placed], bar: Bar) -> Iterator[str]:
        opened = 0
        for index, sign in enumerate(signs):
            piece = sign.piece
            if piece.tuplet is not None and opened == 0:
                opened = _members(signs[index:])
                yield f"({piece.tuplet.actual}:{piece.tuplet.normal}:{opened}"
            yield "".join(f'"{symbol}"' for symbol in sign.chords)
            yield self._rest(piece) if piece.source is None else self._note(piece, bar)
            opened = max(opened - 1, 0)
            is_beamed = bool(piece.beams) and piece.beams[0] in ("begin", "continue")
            yield "" if is_beamed else " "

    def _rest(self, piece: Piece) -> str:
        return f"z{_length(piece)}"

    def _note(self, piece: Piece, bar: Bar) -> str:
        assert piece.source is not None
        note = self.line.notes[piece.source]
        is_first = piece.source not in self.written
        self.written.add(piece.source)
        if note.is_dead:
            # A dead note is struck, not held: what would be tied to it is silence.
            return f"!style=x!{self.last_pitch}{_length(piece)}" if is_first else self._rest(piece)
        begins = bar.onset_ticks - bar.padding_ticks + piece.offset_ticks
        graces = "".join(self._pitch(o.pitch, o.spelling) for o in note.ornaments) if is_first else ""
        name = self._pitch(note.pitch or 0, note.spelling)
        self.last_pitch = name.lstrip("^_=")
        tie = "-" if begins + piece.ticks < note.end_ticks else ""
        return (f"{{{graces}}}" if graces else "") + name + _length(piece) + tie

    def _pitch(self, pitch: int, spelling: str) -> str:
        """A note name with its octave, and its accidental where that is not certain."""
        sounding = parse_spelling(spelling or default_spelling(pitch))
        usual = self.signature.get(sounding.letter, 0)
        in_force = self.altered.get(sounding.letter)
        needs_sign = sounding.alteration != usual if in_force is None else True
        if needs_sign:
            self.altered[sounding.letter] = sounding.alteration
        return (_SIGNS[sounding.alteration] if needs_sign else "") + _letter(sounding, self.writing.octaves)


def _letter(pitch: SpelledPitch, octaves: int) -> str:
    """``C`` is middle C, ``c`` the octave above; commas and apostrophes go on from there."""
    octave = (pitch.octave or 0) - octaves
    letter = LETTERS[pitch.letter]
    return letter + "," * (4 - octave) if octave <= 4 else letter.lower() + "'" * (octave - 5)


def _members(signs: Sequence[_Placed]) -> int:
    """How many signs belong to the tuplet that the first one opens."""
    for count, sign in enumerate(signs, start=1):
        after = signs[count].piece if count < len(signs) else None
        tuplet = sign.piece.tuplet
        # A sign that a chord divides bears the end of its tuplet twice.
        is_end = tuplet is not None and tuplet.stops and (after is None or after.tuplet != tuplet)
        if is_end or after is None or after.tuplet is None:
            return count
    return len(signs)


def _length(piece: Piece) -> str:
    """A written length in units of ``L:``, as ABC writes it: nothing for 1, ``2``, ``/2``, ``3/2``."""
    ratio = Fraction(1) if piece.tuplet is None else Fraction(piece.tuplet.actual, piece.tuplet.normal)
    units = Fraction(piece.ticks, _UNIT_TICKS) * ratio
    above = "" if units.numerator == 1 else str(units.numerator)
    return above + ("" if units.denominator == 1 else f"/{units.denominator}")


def _field(text: str) -> str:
    """A text as the value of a field: what would begin a comment, an escape or an entity is escaped."""
    cleaned = clean_text(text)
    return "".join(f"\\{character}" if character in "\\%&" else character for character in cleaned)


def _quoted(symbol: str) -> str:
    """A chord symbol for quotation marks, which cannot hold everything."""
    return "".join(character for character in clean_text(symbol) if character not in '"\\%')
