"""A transcription as MusicXML 4.0 text.

Repeats are written as played; bars keep the number they bear on the page, so a bar played twice bears it twice. The
page is at written pitch (``corpus.write.instruments``), with ``<transpose>`` leading back to what sounds. Notes bear
``id="note-N"``, N counting from 0 in the transcription; where one is tied, its later heads are ``note-N-2`` and so on.

Law, tested: reading what is written gives the same notes, bars, passes, chords, sections and details. Losses:
choruses are counted anew by the reader; remarks stay behind; spelling changes where a transposed signature would need
more than seven accidentals.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final
from xml.etree.ElementTree import Element, SubElement, indent, tostring

from corpus.model import TICKS_PER_QUARTER, Bar, Meter, Note, Ornament, Transcription
from corpus.pitch import LETTERS, Key, SpelledPitch, default_spelling, fifths_of, parse_spelling
from corpus.text import clean_text
from corpus.transposition import Transposition
from corpus.write.accidentals import NAMES, Accidentals, signature
from corpus.write.breaks import line_starts
from corpus.write.instruments import Writing, writing_of
from corpus.write.musicxml_chords import harmony_of
from corpus.write.values import Piece, written_bar

_HEAD: Final = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)


@dataclass(frozen=True)
class Page:
    """What is written, and how.

    ``first_bar`` and ``last_bar`` are indexes of played bars (both included; None: to the end). ``below`` gives texts
    to stand below notes, by note index. ``concert`` writes transposing instruments at sounding pitch. ``for_print``
    writes for an engraver: chord symbols as they should look, no details but the notes. ``bars_per_line`` asks for
    line breaks, counted anew from every section. ``prefix`` heads the ids of notes, where several scores stand on one
    page.
    """

    first_bar: int = 0
    last_bar: int | None = None
    below: Mapping[int, str] = field(default_factory=dict)
    concert: bool = False
    for_print: bool = False
    bars_per_line: int | None = None
    prefix: str = ""


def musicxml_of(transcription: Transcription, page: Page | None = None) -> str:
    """The transcription, or some of its bars, as MusicXML 4.0 text."""
    writer = _Writer(transcription, page or Page())
    root = writer.score()
    indent(root, space=" ")
    return _HEAD + tostring(root, encoding="unicode") + "\n"


class _Writer:
    """The state that runs through a part: key, meter, accidentals."""

    def __init__(self, line: Transcription, page: Page) -> None:
        self.line = line
        self.page = page
        self.writing: Writing = writing_of(line, concert=page.concert)
        away = Transposition(
            self.writing.steps + 7 * self.writing.octaves, self.writing.semitones + 12 * self.writing.octaves
        )
        self.plain = Transposition(-away.steps, -away.semitones)
        self.to_page = self.plain
        self.accidentals = Accidentals()
        self.key: Key | None = None
        self.fifths = 0
        self.meter: Meter | None = None
        self.last_pitch: SpelledPitch | None = None
        last = len(line.bars) - 1 if page.last_bar is None else page.last_bar
        self.shown = range(page.first_bar, last + 1)
        self.by_bar = notes_by_bar(line, self.shown)
        self.heads: dict[int, int] = {}
        per_line = page.bars_per_line
        self.line_starts = frozenset[int]() if per_line is None else line_starts(line, self.shown, per_line)

    def score(self) -> Element:
        root = Element("score-partwise", {"version": "4.0"})
        details = self.line.details
        if not self.page.for_print:
            _identification(root, self.line)
        parts = SubElement(root, "part-list")
        score_part = SubElement(parts, "score-part", {"id": "P1"})
        SubElement(score_part, "part-name").text = "" if self.page.for_print else clean_text(details.instrument)
        part = SubElement(root, "part", {"id": "P1"})
        for index in self.shown:
            self._measure(part, index)
        return root

    # -- bars ------------------------------------------------------------------------------------------------------

    def _measure(self, part: Element, index: int) -> None:
        bar = self.line.bars[index]
        is_partial = bar.padding_ticks > 0
        measure = SubElement(
            part, "measure", {"number": str(bar.number), **({"implicit": "yes"} if is_partial else {})}
        )
        if index in self.line_starts:
            SubElement(measure, "print", {"new-system": "yes"})
        self._attributes(measure, bar, is_first=index == self.shown[0])
        if index == 0 and not self.page.for_print and self.line.details.tempo_bpm is not None:
            _tempo(measure, self.line.details.tempo_bpm)
        self.accidentals.begin_bar(self.fifths)
        pieces = written_bar(bar, self.by_bar.get(index, ()))
        waiting = self._marks(bar, index)
        for piece in pieces:
            end = piece.offset_ticks + piece.ticks
            while waiting and waiting[0][0] < end:
                offset, element = waiting.pop(0)
                measure.append(_placed(element, offset - piece.offset_ticks))
            self._piece(measure, piece, bar)
        for offset, element in waiting:
            measure.append(_placed(element, offset - bar.length_ticks - bar.padding_ticks))
        end = bar.onset_ticks + bar.length_ticks
        if index == len(self.line.bars) - 1:
            _bar_line(measure, "light-heavy")
        elif any(section.onset_ticks == end for section in self.line.sections):
            _bar_line(measure, "light-light")

    def _attributes(self, measure: Element, bar: Bar, *, is_first: bool) -> None:
        attributes = Element("attributes")
        if is_first:
            SubElement(attributes, "divisions").text = str(TICKS_PER_QUARTER)
        if bar.key is not None and bar.key != self.key:
            self._signature(attributes, bar.key)
        if bar.meter != self.meter:
            self.meter = bar.meter
            time = SubElement(attributes, "time")
            SubElement(time, "beats").text = str(bar.meter.numerator)
            SubElement(time, "beat-type").text = str(bar.meter.denominator)
        if is_first:
            self._clef(attributes)
        if len(attributes):
            measure.append(attributes)

    def _signature(self, attributes: Element, key: Key) -> None:
        sounding = fifths_of(key)
        self.key = key
        self.to_page = self.plain.spelled_for(sounding)
        written = sounding + self.to_page.fifths
        if abs(written) > 7:
            return
        self.fifths = written
        element = SubElement(attributes, "key")
        SubElement(element, "fifths").text = str(written)
        SubElement(element, "mode").text = key.mode

    def _clef(self, attributes: Element) -> None:
        clef = SubElement(attributes, "clef")
        SubElement(clef, "sign").text = "F" if self.writing.clef == "bass" else "G"
        SubElement(clef, "line").text = "4" if self.writing.clef == "bass" else "2"
        if self.writing.semitones or self.writing.octaves:
            transpose = SubElement(attributes, "transpose")
            SubElement(transpose, "diatonic").text = str(self.writing.steps)
            SubElement(transpose, "chromatic").text = str(self.writing.semitones)
            if self.writing.octaves:
                SubElement(transpose, "octave-change").text = str(self.writing.octaves)

    def _marks(self, bar: Bar, index: int) -> list[tuple[int, Element]]:
        """Rehearsal marks and chord symbols of a bar with their places, in order.

        An excerpt begins with the chord in force.
        """
        end = bar.onset_ticks + bar.length_ticks
        marks: list[tuple[int, int, Element]] = []
        for section in self.line.sections:
            if bar.onset_ticks <= section.onset_ticks < end and clean_text(section.label):
                marks.append((bar.padding_ticks, 0, _rehearsal(section.label)))
        for chord in self.line.chords:
            onset = chord.onset_ticks
            if index == self.shown[0] and onset < bar.onset_ticks < chord.end_ticks and index > 0:
                onset = bar.onset_ticks
            if bar.onset_ticks <= onset < end:
                element = harmony_of(clean_text(chord.symbol), self.to_page, for_print=self.page.for_print)
                if element is not None:
                    marks.append((onset - bar.onset_ticks + bar.padding_ticks, 1, element))
        marks.sort(key=lambda mark: mark[:2])
        return [(offset, element) for offset, _, element in marks]

    # -- notes -----------------------------------------------------------------------------------------------------

    def _piece(self, measure: Element, piece: Piece, bar: Bar) -> None:
        if piece.source is None:
            measure.append(_rest(piece, is_whole_bar=piece.ticks == bar.length_ticks and bar.padding_ticks == 0))
            return
        note = self.line.notes[piece.source]
        head = self.heads.get(piece.source, 0) + 1
        self.heads[piece.source] = head
        begins = bar.onset_ticks - bar.padding_ticks + piece.offset_ticks
        tied_from, tied_to = begins > note.onset_ticks and head > 1, begins + piece.ticks < note.end_ticks
        if head == 1 and begins == note.onset_ticks:
            for ornament in note.ornaments:
                measure.append(self._grace(ornament))
        identity = f"{self.page.prefix}note-{piece.source}" + (f"-{head}" if head > 1 else "")
        element = SubElement(measure, "note", {"id": identity})
        pitch = self._pitch(element, note)
        SubElement(element, "duration").text = str(piece.ticks)
        # A dead note is struck, not held: its length is written, its tie would be read as another stroke's.
        ties = [kind for kind, holds in (("stop", tied_from), ("start", tied_to)) if holds]
        for kind in ties:
            SubElement(element, "tie", {"type": kind})
        SubElement(element, "voice").text = "1"
        _value(element, piece)
        if pitch is not None and not tied_from:
            self._accidental(element, pitch)
        if piece.tuplet is not None:
            modification = SubElement(element, "time-modification")
            SubElement(modification, "actual-notes").text = str(piece.tuplet.actual)
            SubElement(modification, "normal-notes").text = str(piece.tuplet.normal)
            SubElement(modification, "normal-type").text = piece.tuplet.kind
        if note.is_dead or note.is_ghost:
            brackets = {"parentheses": "yes"} if note.is_ghost else {}
            SubElement(element, "notehead", brackets).text = "x" if note.is_dead else "normal"
        for level, word in enumerate(piece.beams, start=1):
            SubElement(element, "beam", {"number": str(level)}).text = word
        _notations(element, piece, ties)
        text = self.page.below.get(piece.source, "") if head == 1 else ""
        if text:
            lyric = SubElement(element, "lyric", {"number": "1"})
            SubElement(lyric, "syllabic").text = "single"
            SubElement(lyric, "text").text = text

    def _pitch(self, element: Element, note: Note) -> SpelledPitch | None:
        """Write the pitch of a note; of a dead note the place of the head, on the line of the note before it."""
        if note.pitch is None:
            place = self.last_pitch or parse_spelling("D3" if self.writing.clef == "bass" else "B4")
            pitch = SpelledPitch(place.letter, signature(self.fifths).get(place.letter, 0), place.octave)
        else:
            pitch = self._written(note.pitch, note.spelling)
            self.last_pitch = pitch
        _pitch_element(element, pitch)
        return None if note.pitch is None else pitch

    def _written(self, pitch: int, spelling: str) -> SpelledPitch:
        sounding = parse_spelling(spelling or default_spelling(pitch))
        return self.to_page.sounding(sounding.letter, sounding.alteration, sounding.octave or 0)

    def _grace(self, ornament: Ornament) -> Element:
        element = Element("note")
        SubElement(element, "grace", {"slash": "yes"})
        pitch = self._written(ornament.pitch, ornament.spelling)
        _pitch_element(element, pitch)
        SubElement(element, "voice").text = "1"
        SubElement(element, "type").text = "eighth"
        self._accidental(element, pitch)
        return element

    def _accidental(self, element: Element, pitch: SpelledPitch) -> None:
        printed = self.accidentals.printed(pitch)
        if printed:
            reminder = {"cautionary": "yes"} if printed == "reminder" else {}
            SubElement(element, "accidental", reminder).text = NAMES[pitch.alteration]


def notes_by_bar(line: Transcription, shown: range) -> dict[int, list[tuple[int, int, int]]]:
    """Index, start and end of every note in every bar it sounds in, counted from the bar's start."""
    found: dict[int, list[tuple[int, int, int]]] = {}
    for index, note in enumerate(line.notes):
        bar_index = note.bar_index
        while bar_index < len(line.bars):
            bar = line.bars[bar_index]
            if bar.onset_ticks >= note.end_ticks:
                break
            start = max(note.onset_ticks, bar.onset_ticks) - bar.onset_ticks
            end = min(note.end_ticks, bar.onset_ticks + bar.length_ticks) - bar.onset_ticks
            if end > start and bar_index in shown:
                found.setdefault(bar_index, []).append((index, start, end))
            bar_index += 1
    return found


def _identification(root: Element, line: Transcription) -> None:
    details = line.details
    work = SubElement(root, "work")
    SubElement(work, "work-title").text = clean_text(details.title)
    fields = {
        "player": details.player,
        "recording": details.recording,
        "year": "" if details.year is None else f"{details.year:04d}",
        "form": str(details.form or ""),
    }
    known: Sequence[tuple[str, str]] = [(name, clean_text(text)) for name, text in fields.items() if clean_text(text)]
    identification = SubElement(root, "identification")
    encoding = SubElement(identification, "encoding")
    SubElement(encoding, "software").text = "wellworn"
    if known:
        miscellaneous = SubElement(identification, "miscellaneous")
        for name, text in known:
            SubElement(miscellaneous, "miscellaneous-field", {"name": name}).text = text


def _bar_line(measure: Element, style: str) -> None:
    SubElement(SubElement(measure, "barline", {"location": "right"}), "bar-style").text = style


def _tempo(measure: Element, bpm: float) -> None:
    direction = SubElement(measure, "direction", {"placement": "above"})
    metronome = SubElement(SubElement(direction, "direction-type"), "metronome")
    SubElement(metronome, "beat-unit").text = "quarter"
    SubElement(metronome, "per-minute").text = f"{bpm:g}"
    SubElement(direction, "sound", {"tempo": f"{bpm:g}"})


def _rehearsal(label: str) -> Element:
    direction = Element("direction", {"placement": "above"})
    SubElement(SubElement(direction, "direction-type"), "rehearsal").text = clean_text(label)
    return direction


def _placed(element: Element, offset_ticks: int) -> Element:
    """A chord symbol that falls inside a note or rest, moved there by ``<offset>``."""
    if offset_ticks and element.tag == "harmony":
        SubElement(element, "offset").text = str(offset_ticks)
    return element


def _rest(piece: Piece, *, is_whole_bar: bool) -> Element:
    element = Element("note")
    SubElement(element, "rest", {"measure": "yes"} if is_whole_bar else {})
    SubElement(element, "duration").text = str(piece.ticks)
    SubElement(element, "voice").text = "1"
    if not is_whole_bar:
        _value(element, piece)
        if piece.tuplet is not None:
            modification = SubElement(element, "time-modification")
            SubElement(modification, "actual-notes").text = str(piece.tuplet.actual)
            SubElement(modification, "normal-notes").text = str(piece.tuplet.normal)
            SubElement(modification, "normal-type").text = piece.tuplet.kind
            _notations(element, piece, [])
    return element


def _pitch_element(element: Element, pitch: SpelledPitch) -> None:
    inner = SubElement(element, "pitch")
    SubElement(inner, "step").text = LETTERS[pitch.letter]
    if pitch.alteration:
        SubElement(inner, "alter").text = str(pitch.alteration)
    SubElement(inner, "octave").text = str(pitch.octave)


def _value(element: Element, piece: Piece) -> None:
    if piece.kind:
        SubElement(element, "type").text = piece.kind
        for _ in range(piece.dots):
            SubElement(element, "dot")


def _notations(element: Element, piece: Piece, ties: Sequence[str]) -> None:
    tuplet = piece.tuplet
    opens = tuplet is not None and tuplet.starts
    closes = tuplet is not None and tuplet.stops
    if not (ties or opens or closes):
        return
    notations = SubElement(element, "notations")
    for kind in ties:
        SubElement(notations, "tied", {"type": kind})
    if opens:
        SubElement(notations, "tuplet", {"type": "start", "number": "1", "bracket": "no" if piece.beams else "yes"})
    if closes:
        SubElement(notations, "tuplet", {"type": "stop", "number": "1"})
