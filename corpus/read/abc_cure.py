"""The cure: one voice's ABC body rewritten to the few tokens that music21 reads rightly.

music21's ABC tokenizer loses or misreads much of what jazz lines need (accidentals over ties, inline fields, endings,
parts, chords it cannot parse, broken rhythm around slurs). So this scan resolves everything that depends on context
and leaves a text of only five kinds of token:

- notes with every accidental explicit, key signature included, and their length in unit notes, tuplets and broken
  rhythm multiplied in (``^F,3/2``);
- rests (``z4``), ties (``-``) and plain bar lines (``|``);
- ``N:17``: entry 17 of the table ``marks``, in time order with the notes: everything else that means something.

Rules followed (ABC standard 2.1): an accidental holds for its letter in all octaves to the bar line
(``%%propagate-accidentals pitch``, the default) and over a tie; grace notes take part in this. Tuplet defaults and
broken rhythm are those of sections 4.4 and 4.13. Of a chord, the top or bottom note is kept, with the length of the
chord's first note. A line end at which a bar is exactly full ends the bar (the Essen collection writes no sign there).

Lost: slurs, ornament signs, dynamics, fingerings, annotations (except jumps), lyrics, overlays (``&``), quarter
tones, lengths of grace notes, tempo changes after the first, symbols of ``U:`` that stand for anything but an x head
or a jump. ABC has no sign for ghost notes.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final, Literal

from corpus.errors import ReadingError
from corpus.model import Meter
from corpus.pitch import LETTERS, SpelledPitch
from corpus.read.abc_fields import (
    ACCIDENTALS,
    Signature,
    parse_key_field,
    parse_length_field,
    parse_meter_field,
    properties,
    semitones_of,
)
from corpus.read.abc_text import clean, without_comment
from corpus.read.abc_tokens import (
    DECORATION_SIGNS,
    LENGTH,
    NOTE,
    QUOTE_SIGNS,
    TOKEN,
    TUPLET_TIME,
    BarMark,
    ChordMark,
    KeyMark,
    Mark,
    MeterMark,
    NoteMark,
    Remark,
    SectionMark,
    SignMark,
    is_symbol,
    passes_of,
    user_symbols,
    with_lone_quotes_marked,
)
from corpus.read.written import Voice

MOST_NOTES: Final = 50_000
"""Notes and rests of one voice that are still read."""
_LONGEST_NOTE: Final = 1024
_MOST_REST_BARS: Final = 1000

Propagation = Literal["pitch", "octave", "not"]


@dataclass(frozen=True, slots=True)
class CureSetting:
    """What is in force before the body: key, shift of the sound, meter, unit note, and how accidentals carry."""

    signature: Signature
    semitones: int
    meter: Meter | None
    unit: Fraction
    propagation: Propagation = "pitch"
    voice: Voice = "top"
    voice_properties: Mapping[str, str] = field(default_factory=dict)
    symbols: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class CuredVoice:
    """The canonical text, the table that its ``N:`` lines point into, and the unit note it begins with."""

    text: str
    marks: tuple[Mark, ...]


def cure(body: str, setting: CureSetting) -> CuredVoice:
    """Rewrite one voice's body (fields and music) to the canonical subset.

    Raises ReadingError, naming the bar, for lengths, tuplets and multi-bar rests out of all bounds.
    """
    scan = _Scan(setting)
    scan.run(with_lone_quotes_marked(body))
    return CuredVoice("".join(scan.out), tuple(scan.marks))


class _Scan:
    """The state of one scan; ``out`` collects the canonical text in pieces."""

    def __init__(self, setting: CureSetting) -> None:
        self.setting = setting
        self.out: list[str] = [f"L:{setting.unit.numerator}/{setting.unit.denominator}\n"]
        self.marks: list[Mark] = []
        self.signature = setting.signature
        self.semitones = setting.semitones
        self.meter = setting.meter
        self.unit = setting.unit
        self.symbols = dict(setting.symbols)
        self.bar = 1
        self.notes = 0
        self.bar_lengths: list[tuple[int, int]] = []  # of the notes since the last bar line, in unit notes
        self.accidentals: dict[object, int] = {}
        self.tied: dict[tuple[int, int], int] = {}
        self.places: dict[tuple[int, int], int] = {}
        self.graces: list[SpelledPitch] = []
        self.is_dead = False
        self.last: tuple[int, str, int, int] | None = None  # index in out, text, numerator, denominator
        self.next_num = self.next_den = 1  # what a broken rhythm sign does to the next note
        self.tuplet = (0, 1, 1)  # notes left, in the time of, number
        self.skips = ""  # what is passed over: to the end of a bar or of a group
        self.in_group = False
        self.handlers: dict[str, Callable[[str], None]] = {
            "field": self.on_field,
            "note": self.on_note,
            "bar": self.on_bar,
            "inline": self.on_inline,
            "ending": self.on_ending,
            "chord": self.on_chord,
            "quote": self.on_quote,
            "grace": self.on_grace,
            "tuplet": self.on_tuplet,
            "broken": self.on_broken,
            "tie": self.on_tie,
            "deco": self.on_decoration,
            "overlay": self.on_overlay,
            "unpaired": self.on_unpaired,
            "newline": self.on_newline,
            "symbol": self.on_symbol,
            "unknown": self.on_unknown,
        }

    def run(self, body: str) -> None:
        """Scan the whole body."""
        handlers = self.handlers
        for match in TOKEN.finditer(body):
            kind = match.lastgroup or ""
            if self.skips and kind not in ("bar", "overlay", "field", "inline"):
                continue
            handler = handlers.get(kind)
            if handler is not None:
                handler(match[0])

    def fail(self, text: str) -> ReadingError:
        """An error with its place; the caller raises it."""
        return ReadingError(f"near bar {self.bar}: {text}")

    def mark(self, mark: Mark) -> None:
        """Put an entry into the stream."""
        self.out.append(f"\nN:{len(self.marks)}\n")
        self.marks.append(mark)

    # notes -----------------------------------------------------------------------------------------------------

    def length(self, num: str, slashes: str, den: str) -> tuple[int, int]:
        """A written length as a fraction of the unit note: ``3/2``, ``/``, ``//``, ``3/``."""
        if not slashes:
            if not num:
                return 1, 1
            if len(num) > 4 or int(num) > _LONGEST_NOTE:
                raise self.fail(f"a note length of {num[:12]} unit notes: at most {_LONGEST_NOTE} are read")
            return int(num), 1
        if len(num) > 4 or len(den) > 4 or len(slashes) > 8:
            raise self.fail(f"a note length of {(num + slashes + den)[:16]}: at most four digits are read")
        divisor = int(den) * 2 ** (len(slashes) - 1) if den else 2 ** len(slashes)
        if divisor == 0:
            raise self.fail(f"a note length of {num + slashes + den}: nothing can be divided by 0")
        return int(num or 1), divisor

    def alteration(self, sign: str | None, letter: int, octave: int) -> int:
        """The alteration of a note in its context, which it may change."""
        how = self.setting.propagation
        if sign is not None:
            value = ACCIDENTALS[sign]
            if how == "pitch":
                self.accidentals[letter] = value
            elif how == "octave":
                self.accidentals[letter, octave] = value
            return value
        if self.tied:
            value_tied = self.tied.get((letter, octave))
            if value_tied is not None:
                return value_tied
        if self.accidentals:
            held = self.accidentals.get(letter if how == "pitch" else (letter, octave))
            if held is not None:
                return held
        return self.signature.alterations[letter]

    def place(self, match: re.Match[str]) -> tuple[int, int, int]:
        """Letter, octave and alteration of a matched note."""
        name = match["pitch"]
        marks = match["octave"]
        letter = LETTERS.index(name.upper())
        octave = (5 if name.islower() else 4) + marks.count("'") - marks.count(",")
        if not 0 <= octave <= 9:
            raise self.fail(f"the note {match[0][:20]} lies outside the octaves C0 to B9 that are read")
        sign = match["acc"]
        if match["micro"]:
            self.mark(Remark("quarter tones are read as the natural note", match[0][:20]))
            sign = "="
        return letter, octave, self.alteration(sign, letter, octave)

    def on_note(self, text: str) -> None:
        """A note or rest."""
        match = NOTE.fullmatch(text)
        if match is None:  # an accidental before a rest, which means nothing
            self.on_unknown(text)
            return
        name = match["pitch"]
        if name in "zx":
            self.tied = {}
            self.places = {}
            self.emit("z", *self.length(match["num"], match["slash"], match["den"]))
        elif name in "ZX":
            self.rest_bars(match["num"])
        else:
            letter, octave, alteration = self.place(match)
            self.pitched(letter, octave, alteration, *self.length(match["num"], match["slash"], match["den"]))
            self.places = {(letter, octave): alteration}

    def pitched(self, letter: int, octave: int, alteration: int, num: int, den: int) -> None:
        """Write out one note with all that is attached to it."""
        if self.graces or self.is_dead:
            self.mark(NoteMark(tuple(self.graces), self.is_dead))
            self.graces = []
            self.is_dead = False
        self.tied = {}
        sign = ("", "^", "^^", "__", "_")[alteration]
        name = LETTERS[letter].lower() if octave >= 5 else LETTERS[letter]
        heights = "'" * (octave - 5) if octave >= 5 else "," * (4 - octave)
        self.emit(sign + name + heights, num, den)

    def emit(self, text: str, num: int, den: int) -> None:
        """Write a note or rest with its length under tuplet and broken rhythm."""
        if num == 0:
            self.mark(Remark("notes of no length are left out", text))
            return
        self.notes += 1
        if self.notes > MOST_NOTES:
            raise self.fail(f"more than {MOST_NOTES:,} notes in one tune: is an X: line missing between tunes?")
        left, time, number = self.tuplet
        if left:
            num, den = num * time, den * number
            self.tuplet = (left - 1, time, number)
        if self.next_den != 1:
            num, den = num * self.next_num, den * self.next_den
            self.next_num = self.next_den = 1
        self.bar_lengths.append((num, den))
        self.last = (len(self.out), text, num, den)
        self.out.append(text + _length_text(num, den))

    def rest_bars(self, count: str) -> None:
        """``Z4``: so many bars of rest."""
        bars = int(count or 1) if len(count) < 5 else _MOST_REST_BARS + 1
        if bars > _MOST_REST_BARS:
            raise self.fail(f"a rest of {count[:12]} bars: at most {_MOST_REST_BARS} are read")
        meter = self.meter or Meter(4, 4)
        length = Fraction(meter.numerator, meter.denominator) / self.unit
        self.tied = {}
        self.places = {}
        for index in range(bars):
            if index:
                self.on_bar("|")
            self.emit("z", length.numerator, length.denominator)
        self.last = None

    def on_chord(self, text: str) -> None:
        """Several notes at once: the top or bottom one is kept."""
        inner, _, outer = text[1:].rpartition("]")
        for quote in re.findall(r'"[^"\n]*"', inner):
            self.on_quote(quote)
        bare = re.sub(r'"[^"\n]*"|![^!\s]*!', "", inner)
        found: list[tuple[tuple[int, int, int], tuple[int, int], bool]] = []
        for match in NOTE.finditer(bare):
            if match["pitch"] not in "zxZX":
                is_tied = bare[match.end() : match.end() + 2].lstrip().startswith("-")
                found.append((self.place(match), self.length(match["num"], match["slash"], match["den"]), is_tied))
        if not found:
            rest = re.search(r"[zx]\d*/*\d*", bare)
            self.on_note(rest[0]) if rest else self.on_unknown(text[:20])
            return
        times = re.fullmatch(LENGTH.format(""), outer)
        num, den = self.length(times["num"], times["slash"], times["den"]) if times else (1, 1)
        pick = max if self.setting.voice == "top" else min
        chosen = pick(found, key=lambda entry: SpelledPitch(entry[0][0], entry[0][2], entry[0][1]).pitch or 0)
        if len(found) > 1:
            self.mark(Remark(f"of several notes at once the {self.setting.voice} one is read", text[:20]))
        first_num, first_den = found[0][1]
        self.pitched(*chosen[0], first_num * num, first_den * den)
        self.places = {(letter, octave): alteration for (letter, octave, alteration), _, _ in found}
        if chosen[2]:
            self.on_tie("-")

    def on_grace(self, text: str) -> None:
        """Grace notes, kept for the next note."""
        for match in NOTE.finditer(text):
            if match["pitch"] not in "zxZX":
                letter, octave, alteration = self.place(match)
                self.graces.append(SpelledPitch(letter, alteration, octave))
        del self.graces[32:]

    def on_tie(self, _text: str) -> None:
        """A tie from the last note."""
        if self.places and not self.tied and not self.graces:  # after grace notes it is a slur
            self.tied = dict(self.places)
            self.out.append("-")

    def on_tuplet(self, text: str) -> None:
        """``(p:q:r``: the next r notes sound p in the time of q."""
        number, time, count = [*text[1:].split(":"), "", ""][:3]
        if max(len(number), len(time), len(count)) > 2:
            raise self.fail(f"the tuplet {text[:20]}: numbers up to 99 are read")
        p = int(number)
        compound = self.meter is not None and self.meter.numerator in (6, 9, 12)
        q = int(time) if time else TUPLET_TIME.get(p, 3 if compound else 2)
        r = int(count) if count else p
        if p == 0 or q == 0:
            self.mark(Remark("tuplets of no notes are left out", text))
            return
        if self.tuplet[0]:
            self.mark(Remark("a tuplet begins inside another and replaces it", text))
        self.tuplet = (r, q, p)

    def on_broken(self, text: str) -> None:
        """``>``: the note before is dotted, the next one cut; ``<`` the other way round."""
        if self.last is None or len(text) > 4:
            self.mark(Remark("broken rhythm signs without a note before them are left out", text[:8]))
            return
        index, note, num, den = self.last
        whole = 2 ** len(text)
        long, short = 2 * whole - 1, 1
        left, right = (long, short) if text[0] == ">" else (short, long)
        self.out[index] = note + _length_text(num * left, den * whole)
        if self.bar_lengths:
            self.bar_lengths[-1] = (num * left, den * whole)
        self.last = None
        self.next_num, self.next_den = right, whole

    # bars ------------------------------------------------------------------------------------------------------

    def on_bar(self, text: str) -> None:
        """A bar line of any kind, with a bracket's numbers if they follow at once."""
        if self.skips == "group":
            return
        self.skips = ""
        self.accidentals = {}
        if self.bar_lengths:
            self.bar += 1
            self.bar_lengths = []
        if text in ("|", "[|]"):
            self.out.append("|")
            return
        numbers = text.lstrip("|:[] \t")
        sign = text[: len(text) - len(numbers)].rstrip("[ \t") if numbers else text
        ends = len(sign) - len(sign.lstrip(":"))
        starts = len(sign) - len(sign.rstrip(":"))
        if ends == len(sign):  # nothing but colons; a single one before a number stands for :|
            ends, starts = (1, 0) if numbers and ends == 1 else (len(sign) // 2, len(sign) // 2)
        endings = passes_of(numbers) if numbers else None
        self.mark(BarMark(ends, starts, endings, is_strong=len(sign) > 1 or sign == ""))

    def on_newline(self, _text: str) -> None:
        """A line end where a bar is exactly full is a bar line: some collections leave out the sign there."""
        if self.bar_lengths and self.meter is not None:
            length = sum(Fraction(num, den) for num, den in self.bar_lengths) * self.unit
            if length == Fraction(self.meter.numerator, self.meter.denominator):
                self.on_bar("|")

    def on_ending(self, text: str) -> None:
        """``[1``, ``[1,3``, ``["last"``: a bracket that begins here."""
        if self.skips == "group":
            return
        self.mark(BarMark(endings=passes_of(text), is_line=False))

    def on_overlay(self, text: str) -> None:
        """``&``: another voice over this bar (or group of bars), which is left out."""
        if text == "(&":
            self.in_group = True
        elif text == "&)":
            self.in_group = False
            self.skips = ""
        elif not self.skips:
            self.skips = "group" if self.in_group else "bar"
            self.mark(Remark("voices laid over a bar with & are left out"))

    # fields and texts ------------------------------------------------------------------------------------------

    def on_inline(self, text: str) -> None:
        """``[K:…]``: the same as the field on a line of its own."""
        self.on_field(text[1:-1])

    def on_field(self, text: str) -> None:
        """A field in the body. Unknown ones are passed over."""
        letter, _, value = text.strip().partition(":")
        value = without_comment(value)
        if letter == "K":
            self.on_key(value)
        elif letter == "M":
            self.meter, remark = parse_meter_field(value)
            self.mark(MeterMark(self.meter))
            if remark:
                self.mark(Remark(remark))
        elif letter == "L":
            unit = parse_length_field(value)
            if unit is None:
                self.mark(Remark("unknown unit notes (L:) are left out", value[:20]))
                return
            self.unit = unit
            self.out.append(f"\nL:{unit.numerator}/{unit.denominator}\n")
        elif letter == "P":
            label = clean(value)
            if label:
                self.mark(SectionMark(label))
        elif letter == "U":
            self.symbols |= user_symbols([value])

    def on_key(self, value: str) -> None:
        """A change of key, clef or transposition."""
        self.signature, remark = parse_key_field(value, self.signature)
        found = properties(value)
        if found.keys() & {"octave", "transpose", "t", "clef"}:
            self.semitones = semitones_of({**found, **self.setting.voice_properties})
        self.accidentals = {}
        self.mark(KeyMark(self.signature.key, self.semitones))
        if remark:
            self.mark(Remark(remark))

    def on_quote(self, text: str) -> None:
        """A chord symbol, a jump in words, or a text that is left out."""
        inner = text[1:-1].strip()
        bare = inner.lstrip("^_<>@").strip()
        for pattern, sign in QUOTE_SIGNS:
            if pattern.match(bare):
                self.mark(SignMark(sign))
                return
        if not inner or inner[0] in "^_<>@":
            return
        for part in re.split(r"[;\n]", clean(inner)):
            symbol = part.strip()
            if is_symbol(symbol):
                self.mark(ChordMark(symbol))
            elif symbol:
                self.mark(Remark("texts in quotes that are no chord symbols are left out", symbol[:20]))

    def on_unpaired(self, text: str) -> None:
        """A quotation mark that is never closed on its line."""
        self.mark(Remark("quotation marks without a partner are left out, with the text after them", text[:20]))

    def on_decoration(self, text: str) -> None:
        """``!…!`` or ``+…+``."""
        name = text[1:-1].strip()
        if re.fullmatch(r"(?:[_^=]*[A-Ga-gz][,']*\d*/*\d*){2,}", name) and not re.fullmatch(r"f{2,4}", name):
            if text[0] == "+":
                self.on_chord(f"[{name}]")  # chords of the oldest ABC
                return
            for match in NOTE.finditer(name):  # two old line breaks on either side of notes
                self.on_note(match[0])
            return
        self.decorate(name)

    def decorate(self, name: str) -> None:
        """What a decoration's name means, if anything is kept of it."""
        if name == "style=x":
            self.is_dead = True
            return
        low = name.lower().replace(" ", "")
        sign = DECORATION_SIGNS.get(low) or DECORATION_SIGNS.get(low[:4] if low[:4] in ("d.c.", "d.s.") else "")
        if sign is not None:
            self.mark(SignMark(sign))

    def on_symbol(self, text: str) -> None:
        """A one-letter decoration."""
        self.decorate(self.symbols.get(text, {"O": "coda", "S": "segno"}.get(text, "")))

    def on_unknown(self, text: str) -> None:
        """Something that means nothing in ABC."""
        self.mark(Remark("characters that mean nothing in ABC are left out", clean(text)))


def _length_text(num: int, den: int) -> str:
    if den == 1:
        return "" if num == 1 else str(num)
    return f"{num}/{den}"
