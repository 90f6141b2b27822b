"""One pass over a MusicXML part: the facts of every bar, and a cured copy of its notes for music21.

music21 is given as little as it needs, since much of what a page carries makes it stumble: notes only, at sounding
pitch, in ticks, each with a voice. Rests, cue notes and the notes of other staves become plain distance. Everything
else a bar has to say (number, meter, key, chords, marks) is read here.

Durations: a note lasts what ``<duration>`` says; where the file's divisions cannot express the printed value (a
septuplet in divisions of 480) and the two differ by less than one division, the printed value counts. Positions are
kept both as the file counts them and in ticks, so that ``<backup>`` finds the place it means.
"""

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final
from xml.etree.ElementTree import Element

from corpus.errors import ReadingError
from corpus.harmony.symbols import read_symbol, transpose_symbol
from corpus.model import TICKS_PER_QUARTER, Meter
from corpus.pitch import Key, key_from_fifths
from corpus.read.musicxml_chords import chord_texts
from corpus.read.musicxml_cure import CuredMeasure
from corpus.read.musicxml_details import TYPE_QUARTERS, tempo_of_direction, tempo_of_sound
from corpus.read.musicxml_marks import MarkReader, Marks, settle_codas
from corpus.read.musicxml_pitch import transposition_of
from corpus.read.musicxml_styles import Styles, is_plain
from corpus.read.remarks import Remarks
from corpus.text import clean_text
from corpus.transposition import Transposition

LONGEST_BAR_QUARTERS: Final = 1_024
_BEAT_VALUES: Final = ("1", "2", "4", "8", "16", "32", "64", "128")
_LARGEST_NUMBER: Final = 10**9
_LARGEST_BAR_NUMBER: Final = 99_999


@dataclass(slots=True)
class PageBar:
    """A bar as the page has it. ``voices`` are the voices of its cured notes; ``notes`` the cured ``<measure>``."""

    number: int
    meter: Meter
    length_ticks: int
    key: Key | None
    is_pickup: bool
    marks: Marks
    chords: list[tuple[int, str]] = field(default_factory=list)
    voices: tuple[str, ...] = ()
    notes: Element = field(default_factory=lambda: Element("measure"))
    words: list[tuple[int, str]] = field(default_factory=list)
    """Chord symbols that stand on the page as plain words, with their places."""


@dataclass(frozen=True, slots=True)
class Page:
    """All bars of a part, and the first tempo found (quarter notes a minute)."""

    bars: tuple[PageBar, ...]
    tempo_bpm: float | None


def read_page(
    part: Element,
    staff: int | None,
    name: str,
    remarks: Remarks,
    *,
    wished_key: Key | None = None,
    with_notes: bool = True,
) -> Page:
    """Walk over a part once.

    ``staff`` picks the notes of one staff (None: all); ``wished_key`` is the user's word on the key, which counts
    where the file gives a signature without a mode; ``with_notes`` False leaves the cured measures empty. Raises
    ReadingError where numbers make no sense.
    """
    walk = _Walk(staff, name, remarks, wished_key, with_notes)
    walk.styles.takes_all = with_notes and not any(is_plain(note) for note in part.iterfind("measure/note"))
    bars = [walk.bar(measure) for measure in part.iterfind("measure")]
    settle_codas([bar.marks for bar in bars])
    if with_notes:
        settle_pickup(bars, remarks)
    return Page(tuple(bars), walk.tempo_bpm)


def settle_pickup(bars: list[PageBar], remarks: Remarks) -> None:
    """The only bar but the last that is shorter than its meter, when it is the first, is a pickup whatever its number.

    A file with short bars here and there is one of short bars.
    """
    if len(bars) < 2 or bars[0].is_pickup or bars[0].number > 1 or not bars[0].voices:
        return
    first, *others = bars
    is_short = first.length_ticks < first.meter.bar_ticks
    if is_short and all(bar.length_ticks >= bar.meter.bar_ticks for bar in others[:-1] or others):
        remarks.add(f"the first bar, {first.number} on the page, is a pickup: counted as 0", 0)
        first.number, first.is_pickup = 0, True


class _Walk:
    """The state that runs through a part: divisions, meter, key, transposition, and the place in the bar."""

    def __init__(
        self, staff: int | None, name: str, remarks: Remarks, wished_key: Key | None, with_notes: bool
    ) -> None:
        self.staff = staff
        self.with_notes = with_notes
        self.name = name
        self.remarks = remarks
        self.wished_key = wished_key
        self.tempo_bpm: float | None = None
        self.mark_reader = MarkReader()
        self.divisions = Fraction(1)
        self.lengths: dict[str, Fraction] = {}  # lengths read so far, by their text in the divisions in force
        self.meter = Meter(4, 4)
        self.is_free = False
        self.key: Key | None = None
        self.fifths: int | None = None
        self.written = Transposition()
        self.transposition = Transposition()
        self.first_signature: int | None = None
        self.pages: list[PageBar] = []
        self.styles = Styles()
        self.later: list[Element] = []
        self._clear_bar(0)

    @property
    def previous(self) -> PageBar | None:
        """The bar before the one that is being read."""
        return self.pages[-1] if self.pages else None

    def _clear_bar(self, number: int) -> None:
        self.number = number
        self.position = Fraction(0)  # in quarter notes, as the file counts
        self.exact = Fraction(0)  # the same place by printed note values
        self.ticks = 0  # the same place on the time grid
        self.known = {Fraction(0): Fraction(0)}
        self.furthest = 0
        self.backups = 0
        self.voice = "1"
        self.chords: list[tuple[int, str]] = []
        self.waiting_chords: list[str] = []
        self.section_at = 0
        self.words: list[tuple[int, str]] = []
        self.cured = CuredMeasure()
        self.chord_start = 0
        self.chord_ticks = 0

    # -- a bar -----------------------------------------------------------------------------------------------------

    def bar(self, measure: Element) -> PageBar:
        """Read one measure and return its facts."""
        is_first = self.previous is None
        implicit = measure.get("implicit") == "yes"
        self._clear_bar(self._number(measure.get("number", ""), implicit))
        later, self.later = self.later, []
        for element in later:
            self._signature(element)
        marks = self.mark_reader.begin_bar()
        for element in measure:
            self._element(element)
        self._settle_chords(self.ticks, 0)
        if marks.section and 0 < self.furthest <= self.section_at:
            self.mark_reader.move_section_to_next_bar()
        length, meter = self._length_and_meter()
        is_short = length < meter.bar_ticks
        is_pickup = is_first and (self.number == 0 or (implicit and is_short))
        page = PageBar(
            number=0 if is_pickup else self.number,
            meter=meter,
            length_ticks=length,
            key=self.key,
            is_pickup=is_pickup or (implicit and self._completes(length, meter)),
            marks=marks,
            chords=list(dict.fromkeys(self.chords)),
            voices=tuple(sorted(self.cured.voices)),
            notes=self.cured.element,
            words=self.words,
        )
        if self.styles.copies(page, self.pages):
            self.remarks.add("signs to repeat the bar before are played out", page.number)
        self.pages.append(page)
        return page

    def _number(self, text: str, implicit: bool) -> int:
        """The written number: the digits of the text, else one more than the bar before.

        An uncounted bar (``X1``, printed without a number) is the rest of the bar before it and bears its number.
        """
        before = self.previous.number if self.previous is not None else None
        if implicit and text[:1] in ("X", "x") and before is not None:
            return before
        digits = re.search(r"[0-9]{1,9}", text)
        if digits is not None and int(digits[0]) <= _LARGEST_BAR_NUMBER:
            return int(digits[0])
        return 1 if before is None else before + 1

    def _length_and_meter(self) -> tuple[int, Meter]:
        """The bar's length and meter; a bar without meter counts in quarters or eighths of its own length."""
        if not self.is_free:
            return self.furthest or self.meter.bar_ticks, self.meter
        length = self.furthest or 4 * TICKS_PER_QUARTER
        for denominator in (4, 8, 16):
            beat = 4 * TICKS_PER_QUARTER // denominator
            if length % beat == 0:
                return length, Meter(length // beat, denominator)
        return length, self.meter

    def _completes(self, length: int, meter: Meter) -> bool:
        """Whether this bar is the second part of a bar that the page splits: its beats go on counting."""
        before = self.previous
        return before is not None and before.meter == meter and before.length_ticks + length == meter.bar_ticks

    def _element(self, element: Element) -> None:
        match element.tag:
            case "note":
                self._note(element)
            case "backup":
                self.backups += 1
                self._move(-self._quarters(element, "duration"))
            case "forward":
                self._move(self._quarters(element, "duration"))
            case "attributes":
                self._attributes(element)
            case "harmony":
                self._harmony(element)
            case "direction":
                self.section_at = self.ticks if self.mark_reader.current.section is None else self.section_at
                self.mark_reader.direction(element, at_start=self.ticks == 0)
                self.tempo_bpm = self.tempo_bpm or tempo_of_direction(element)
                self._words(element)
            case "sound":
                self.mark_reader.sound(element, at_start=self.ticks == 0)
                self.tempo_bpm = self.tempo_bpm or tempo_of_sound(element)
            case "barline":
                remark = self.mark_reader.barline(element)
                if remark:
                    self.remarks.add(remark, self.number)

    # -- numbers and places ----------------------------------------------------------------------------------------

    def _refuse(self, what: str) -> ReadingError:
        return ReadingError(f"{self.name}, bar {self.number}: {what}: the file is damaged, export it again")

    def _quarters(self, element: Element, tag: str) -> Fraction:
        """The number in a child, in quarter notes; 0 without one."""
        text = (element.findtext(tag) or "").strip()
        if not text:
            return Fraction(0)
        if text in self.lengths:
            return self.lengths[text]
        quarters = self._value(text, tag) / self.divisions
        if quarters > LONGEST_BAR_QUARTERS:
            raise self._refuse(f"a {tag} of {text[:20]} is longer than any bar")
        if quarters < 0 and tag == "duration":
            raise self._refuse(f"a negative duration ({text[:20]})")
        if quarters >= 0:
            self.lengths[text] = quarters
        return quarters

    def _value(self, text: str, what: str) -> Fraction:
        if text.isdecimal() and len(text) < 9:
            return Fraction(int(text))
        try:
            number = float(text)
        except ValueError as error:
            raise self._refuse(f"{what} {text[:20]!r} is not a number") from error
        if not math.isfinite(number) or abs(number) > _LARGEST_NUMBER:
            raise self._refuse(f"{what} {text[:20]!r} is out of reason")
        return Fraction(number).limit_denominator(1_000_000)

    def _go_to(self, position: Fraction, exact: Fraction) -> None:
        """Set the place in the bar. Places are rounded to ticks, not lengths: errors don't add up."""
        self.position, self.exact = position, exact
        ticks = exact * TICKS_PER_QUARTER
        if ticks.denominator != 1:
            self.remarks.add("durations finer than the time grid are rounded", self.number)
        self.ticks = round(ticks)
        self.furthest = max(self.furthest, self.ticks)
        if self.furthest > LONGEST_BAR_QUARTERS * TICKS_PER_QUARTER:
            raise self._refuse("the bar has no end")

    def _move(self, quarters: Fraction) -> None:
        """Go to another place of the bar, never before its start."""
        self._settle_chords(self.ticks, 0)
        target = max(self.position + quarters, Fraction(0))
        self._go_to(target, self.known.get(target, max(self.exact + quarters, Fraction(0))))

    # -- notes -----------------------------------------------------------------------------------------------------

    def _note(self, note: Element) -> None:
        parts = {child.tag: child for child in note}
        if "chord" not in parts:
            self.cured.begin_group()
            self.chord_start = self.ticks
            voice = clean_text(parts["voice"].text or "") if "voice" in parts else ""
            self.voice = voice or str(1 + self.backups)
            if "grace" not in parts:
                counted, exact = self._duration(note, parts)
                self._go_to(self.position + counted, self.exact + exact)
                self.known[self.position] = self.exact
                self.chord_ticks = self.ticks - self.chord_start
                self._settle_chords(self.chord_start, self.chord_ticks)
        if "notations" in parts and parts["notations"].find("ornaments/tremolo") is not None:
            self.remarks.add("a tremolo is read as the notes that it is written on", self.number)
        if self.with_notes and self._is_wanted(note, parts) and ("grace" in parts or self.chord_ticks > 0):
            self._cure(note, parts)

    def _is_wanted(self, note: Element, parts: dict[str, Element]) -> bool:
        if "rest" in parts or not ("pitch" in parts or "unpitched" in parts):
            return False
        if self.staff is not None:
            staff = (parts["staff"].text or "").strip() if "staff" in parts else "1"
            if staff != str(self.staff):
                return False
        reason = self.styles.left_out(note, parts)
        if reason:
            self.remarks.add(reason, self.number)
        return not reason

    def _cure(self, note: Element, parts: dict[str, Element]) -> None:
        try:
            is_rounded = self.cured.add(
                parts,
                voice=self.voice,
                start_ticks=self.chord_start,
                length_ticks=None if "grace" in parts else self.chord_ticks,
                transposition=self.transposition,
            )
        except (ValueError, OverflowError) as error:
            raise self._refuse(f"a note that cannot be read ({error})") from error
        if is_rounded:
            self.remarks.add("microtones are rounded to semitones", self.number)

    def _duration(self, note: Element, parts: dict[str, Element]) -> tuple[Fraction, Fraction]:
        """How far a note reaches, in quarter notes: as the file counts, and as it is meant."""
        printed = self._printed_quarters(note, parts)
        if "duration" in parts:
            counted = self._quarters(note, "duration")
            if printed is not None and printed != counted and abs(printed - counted) * self.divisions < 1:
                return counted, printed
        elif printed is not None:
            counted = printed
        else:
            self.remarks.add("a note without a duration is left out", self.number)
            counted = Fraction(0)
        rest = parts.get("rest")
        if rest is not None and rest.get("measure") == "yes" and not self.is_free and self.number > 0:
            kind = (parts["type"].text or "").strip() if "type" in parts else ""
            if kind in ("", "whole", "breve") and self.position == 0 and counted > 0:
                return counted, Fraction(self.meter.bar_ticks, TICKS_PER_QUARTER)
        return counted, counted

    def _printed_quarters(self, note: Element, parts: dict[str, Element]) -> Fraction | None:
        """The length that note value, dots and tuplets show, or None where they say nothing."""
        value = TYPE_QUARTERS.get((parts["type"].text or "").strip()) if "type" in parts else None
        if value is None:
            return None
        if "dot" in parts:
            value *= 2 - Fraction(1, 2 ** min(len(note.findall("dot")), 8))
        ratio = parts.get("time-modification")
        if ratio is not None:
            actual = (ratio.findtext("actual-notes") or "").strip()
            normal = (ratio.findtext("normal-notes") or "").strip()
            if not (re.fullmatch(r"[0-9]{1,4}", actual) and re.fullmatch(r"[0-9]{1,4}", normal) and int(actual)):
                return None
            value *= Fraction(int(normal), int(actual))
        return value

    # -- attributes and chords -------------------------------------------------------------------------------------

    def _for_this_staff(self, elements: Iterator[Element]) -> Iterator[Element]:
        for element in elements:
            number = element.get("number")
            if number is None or number == str(self.staff or 1):
                yield element

    def _attributes(self, attributes: Element) -> None:
        divisions = (attributes.findtext("divisions") or "").strip()
        if divisions:
            self.divisions = self._value(divisions, "divisions")
            self.lengths = {}
            if self.divisions <= 0:
                raise self._refuse(f"divisions of {divisions[:20]} make every note endless")
        for transpose in self._for_this_staff(attributes.iterfind("transpose")):
            try:
                self.written = transposition_of(transpose)
            except (ValueError, OverflowError) as error:
                raise self._refuse(f"a transposition that cannot be read ({error})") from error
        for tag in ("key", "time"):
            for element in self._for_this_staff(attributes.iterfind(tag)):
                if self.ticks == 0:
                    self._signature(element)
                else:
                    self.later.append(element)  # a change inside a bar counts from the next bar
        self.transposition = self.written.spelled_for(self.fifths)
        for style in attributes.iterfind("measure-style"):
            remark = self.styles.read(style)
            if remark:
                self.remarks.add(remark, self.number)

    def _signature(self, element: Element) -> None:
        if element.tag == "time":
            self._time(element)
        else:
            self._key(element)
            self.transposition = self.written.spelled_for(self.fifths)

    def _time(self, element: Element) -> None:
        self.is_free = element.find("senza-misura") is not None
        if self.is_free:
            return
        length = Fraction(0)
        finest = 1
        texts = [(child.tag, (child.text or "").strip()) for child in element if child.tag in ("beats", "beat-type")]
        for (_, beats), (_, value) in zip(texts[::2], texts[1::2], strict=False):
            if not re.fullmatch(r"[0-9]{1,3}(\s*\+\s*[0-9]{1,3})*", beats) or value not in _BEAT_VALUES:
                break
            length += Fraction(sum(int(number) for number in beats.split("+")), int(value))
            finest = max(finest, int(value))
        else:
            if length > 0:
                self.meter = Meter(int(length * finest), finest)
                return
        self.remarks.add(f"a meter that cannot be read is ignored, {self.meter} goes on", self.number)

    def _key(self, element: Element) -> None:
        text = (element.findtext("fifths") or "").strip()
        if not re.fullmatch(r"[+-]?[0-9]{1,2}", text):
            self.fifths = self.key = None
            self.remarks.add("a key signature out of the ordinary is left out", self.number)
            return
        self.fifths = int(text)
        if self.first_signature is None:
            self.first_signature = self.fifths
        sounding = self.fifths + self.written.spelled_for(self.fifths).fifths
        mode = (element.findtext("mode") or "").strip().lower()
        if mode in ("", "none"):
            if self.wished_key is not None and self.fifths == self.first_signature:
                self.key = self.wished_key
                return
            mode = "major"
            self.remarks.add("the key signature names no mode: read as major", self.number)
        self.key = key_from_fifths(sounding, mode)
        if self.key is None:
            self.remarks.add(f"a key signature of {abs(sounding)} signs in mode {mode[:20]!r} is left out", self.number)

    def _harmony(self, harmony: Element) -> None:
        texts = [clean_text(text) for text in chord_texts(harmony, self.transposition.sounding_name)]
        if not texts:
            self.remarks.add("a chord symbol without a root is left out", self.number)
        if (harmony.findtext("offset") or "").strip():
            self.chords += [(self._place(harmony), text) for text in texts]
        else:
            self.waiting_chords += [text for text in texts if text not in self.waiting_chords[-1:]]

    def _words(self, direction: Element) -> None:
        """Keep words that read as a chord symbol: the only ones on the page of some programs."""
        for words in direction.iterfind("direction-type/words"):
            symbol = read_symbol(clean_text(words.text or ""))
            if symbol is not None:
                moved = transpose_symbol(symbol, self.transposition.semitones, self.transposition.steps)
                self.words.append((self._place(direction), moved.canonical))

    def _place(self, element: Element) -> int:
        """The place of a direction or harmony: here, or where its offset leads."""
        if not (element.findtext("offset") or "").strip():
            return self.ticks
        return max(self.ticks + round(self._quarters(element, "offset") * TICKS_PER_QUARTER), 0)

    def _settle_chords(self, start: int, ticks: int) -> None:
        """Place the symbols that stand before a note: several share its duration evenly."""
        share = ticks // len(self.waiting_chords) if self.waiting_chords else 0
        self.chords += [(start + index * share, text) for index, text in enumerate(self.waiting_chords)]
        self.waiting_chords = []
