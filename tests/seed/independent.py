"""A second, independent reader of the seed files, for the tests only.

It shares no code with the project: MusicXML is walked with ElementTree, ABC with
a strict reader of the small subset the seed files keep to (anything else raises).
Pitches are sounding MIDI numbers, onsets and lengths are quarters as fractions,
bars are the written ones (1 upwards through all choruses, 0 for a pickup).
Ties are merged and grace notes left out. Repeats are not played out.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path

SEED = Path(__file__).resolve().parents[2] / "seed_data"
LETTERS = "CDEFGAB"
NATURAL = dict(zip(LETTERS, (0, 2, 4, 5, 7, 9, 11), strict=True))
SHARP_ORDER = "FCGDAEB"
FIFTHS = {"C": 0, "G": 1, "D": 2, "F": -1, "Bb": -2, "Eb": -3, "Ab": -4, "Am": 0}
KINDS = {
    "6": (0, 4, 7, 9),
    "maj7": (0, 4, 7, 11),
    "7": (0, 4, 7, 10),
    "7b9": (0, 4, 7, 10, 1),
    "m7": (0, 3, 7, 10),
    "m6": (0, 3, 7, 9),
    "m7b5": (0, 3, 6, 10),
    "dim7": (0, 3, 6, 9),
}
CHORD = re.compile(r"([A-G])([#b]?)(6|maj7|7b9|7|m7b5|m7|m6|dim7)")


@dataclass(frozen=True)
class Note:
    """One sounding note: where it stands, what it is and the chord in force."""

    bar: int
    beat: Fraction
    onset: Fraction
    duration: Fraction
    midi: int
    letter: str
    chord: str
    dead: bool = False
    ghost: bool = False


@dataclass
class Line:
    """One player's line over one tune."""

    file: str
    title: str = ""
    player: str = ""
    instrument: str = ""
    form: str = ""
    meter: int = 4
    notes: list[Note] = field(default_factory=list)
    chords: list[tuple[Fraction, str]] = field(default_factory=list)
    bars: int = 0
    repeats: bool = False

    @property
    def chorus_bars(self) -> int:
        """Bars in one chorus, from the form."""
        return sum(int(n) for n in re.findall(r"\d+", self.form))

    @property
    def choruses(self) -> int:
        """Choruses in the line; a written repeat counts as played."""
        return -(-self.bars // self.chorus_bars)

    @property
    def pitched(self) -> list[Note]:
        """The notes that have a pitch."""
        return [n for n in self.notes if not n.dead]


def chord_tones(symbol: str) -> tuple[int, ...]:
    """Pitch classes of a chord symbol, the root first."""
    found = CHORD.fullmatch(symbol)
    if found is None:
        raise ValueError(f"chord symbol outside the subset: {symbol!r}")
    letter, sign, kind = found.groups()
    root = NATURAL[letter] + {"": 0, "#": 1, "b": -1}[sign]
    return tuple((root + step) % 12 for step in KINDS[kind])


def signature(fifths: int) -> dict[str, int]:
    """Alteration of each letter under a key signature."""
    altered = dict.fromkeys(LETTERS, 0)
    order = SHARP_ORDER if fifths > 0 else SHARP_ORDER[::-1]
    for letter in order[: abs(fifths)]:
        altered[letter] = 1 if fifths > 0 else -1
    return altered


def merge_ties(notes: list[tuple[Note, bool]]) -> list[Note]:
    """Join each note to the one its tie leads to."""
    merged: list[Note] = []
    tied = False
    for note, starts in notes:
        if tied:
            last = merged[-1]
            if last.midi != note.midi or last.onset + last.duration != note.onset:
                raise ValueError(f"a tie leads nowhere in bar {note.bar}")
            merged[-1] = replace(last, duration=last.duration + note.duration)
        else:
            merged.append(note)
        tied = starts
    return merged


# ---- ABC ---------------------------------------------------------------------

TOKEN = re.compile(
    r'"(?P<chord>[^"]+)"|(?P<bar>\|\]|\|\||:\|2|\|1|\|:|\|)|(?P<triplet>\(3)'
    r"|(?P<dead>!style=x!)|(?P<space>\s+)"
    r"|(?P<acc>[=^_]?)(?P<note>[A-Ga-gz])(?P<oct>[,']*)(?P<len>\d*(?:/\d*)?)(?P<tie>-?)"
)


def abc_length(text: str) -> Fraction:
    """Length factor of an ABC note: '', '2', '3/2', '/', '/4'."""
    if not text:
        return Fraction(1)
    top, slash, bottom = text.partition("/")
    return Fraction(int(top or 1), int(bottom or 2) if slash else 1)


class AbcBody:
    """Walks the music of one ABC tune."""

    def __init__(self, line: Line, unit: Fraction, fifths: int, shift: int) -> None:
        self.line, self.unit, self.shift = line, unit, shift
        self.key = signature(fifths)
        self.now = Fraction(0)
        self.bar, self.bar_start = 1, Fraction(0)
        self.accidentals: dict[str, int] = {}
        self.chord = ""
        self.triplet = 0
        self.dead = False
        self.found: list[tuple[Note, bool]] = []

    def feed(self, text: str) -> None:
        """Read one line of music."""
        at = 0
        while at < len(text):
            token = TOKEN.match(text, at)
            if token is None:
                raise ValueError(f"{self.line.title}: unknown ABC at {text[at:]!r}")
            at = token.end()
            if token["chord"]:
                chord_tones(token["chord"])
                self.chord = token["chord"]
                self.line.chords.append((self.now, self.chord))
            elif token["bar"]:
                self.end_bar(token["bar"])
            elif token["triplet"]:
                self.triplet = 3
            elif token["dead"]:
                self.dead = True
            elif token["note"]:
                self.note(token)

    def end_bar(self, sign: str) -> None:
        """Close a bar; the first may be a pickup, any other must be full."""
        self.line.repeats |= ":" in sign
        length = self.now - self.bar_start
        if sign == "|:" and length == 0:
            return
        if self.bar == 1 and length < self.line.meter:
            self.now = Fraction(0)
            early, first = length, self.line.meter - length
            self.found = [(replace(n, bar=0, onset=n.onset - early, beat=n.beat + first), tie) for n, tie in self.found]
            self.bar = 0
        elif length != self.line.meter:
            raise ValueError(f"{self.line.title}: bar {self.bar} lasts {length}")
        self.line.bars = self.bar
        self.bar, self.bar_start, self.accidentals = self.bar + 1, self.now, {}

    def note(self, token: re.Match[str]) -> None:
        """Add a note or a rest."""
        length = abc_length(token["len"]) * self.unit
        if self.triplet:
            length, self.triplet = length * Fraction(2, 3), self.triplet - 1
        if token["note"] != "z":
            letter = token["note"].upper()
            octave = 4 + (token["note"] != letter)
            octave += token["oct"].count("'") - token["oct"].count(",")
            if token["acc"]:
                self.accidentals[letter] = {"=": 0, "^": 1, "_": -1}[token["acc"]]
            alter = self.accidentals.get(letter, self.key[letter])
            midi = 12 * (octave + 1) + NATURAL[letter] + alter + self.shift
            beat = self.now - self.bar_start + 1
            note = Note(self.bar, beat, self.now, length, midi, letter, self.chord, self.dead)
            self.found.append((note, bool(token["tie"])))
        self.dead = False
        self.now += length


def read_abc_tune(name: str, text: str) -> Line:
    """Read one tune of an ABC file."""
    line = Line(file=name)
    unit = Fraction(1, 4)
    body: AbcBody | None = None
    for row in text.splitlines():
        if row.startswith("%%wellworn-"):
            label, _, value = row.removeprefix("%%wellworn-").partition(" ")
            if label != "year":
                setattr(line, label, value)
        elif re.match(r"[A-Z]:", row):
            tag, value = row[0], row[2:].strip()
            if tag == "T":
                line.title = value
            elif tag == "M":
                line.meter = int(value.split("/")[0])
            elif tag == "L":
                unit = Fraction(value) * 4
            elif tag == "K":
                key, *rest = value.split()
                shift = -12 if "transpose=-12" in rest else 0
                body = AbcBody(line, unit, FIFTHS[key], shift)
        elif body is not None and row.strip():
            body.feed(row)
    if body is None:
        raise ValueError(f"{name}: a tune without a key")
    line.notes = merge_ties(body.found)
    return line


def read_abc(path: Path) -> list[Line]:
    """Read every tune of an ABC file."""
    text = path.read_text(encoding="utf-8")
    if not text.startswith("%abc-2.1\n"):
        raise ValueError(f"{path.name}: not headed %abc-2.1")
    tunes = re.split(r"(?m)^(?=X:)", text)[1:]
    return [read_abc_tune(path.name, tune) for tune in tunes]


# ---- MusicXML ----------------------------------------------------------------

XML_KINDS = {
    "major-sixth": "6",
    "major-seventh": "maj7",
    "dominant": "7",
    "minor-seventh": "m7",
    "minor-sixth": "m6",
    "half-diminished": "m7b5",
    "diminished-seventh": "dim7",
}


def text_of(element: ET.Element, path: str, default: str | None = None) -> str:
    """Text of a child that must be there, unless a default is given."""
    found = element.findtext(path, default)
    if found is None:
        raise ValueError(f"<{element.tag}> lacks {path}")
    return found


def xml_chord(harmony: ET.Element) -> str:
    """The chord symbol a <harmony> stands for."""
    sign = {"0": "", "1": "#", "-1": "b"}[text_of(harmony, "root/root-alter", "0")]
    symbol = text_of(harmony, "root/root-step") + sign
    symbol += XML_KINDS[text_of(harmony, "kind")]
    for degree in harmony.findall("degree"):
        if text_of(degree, "degree-alter") != "-1":
            raise ValueError("only a flat ninth may be added")
        symbol += "b" + text_of(degree, "degree-value")
    chord_tones(symbol)
    return symbol


def read_musicxml(path: Path) -> Line:
    """Read a one-part MusicXML file."""
    root = ET.parse(path).getroot()
    line = Line(file=path.name, title=text_of(root, "work/work-title"))
    for item in root.iter("miscellaneous-field"):
        if item.get("name") == "player":
            line.player = item.text or ""
        if item.get("name") == "form":
            line.form = item.text or ""
    line.instrument = text_of(root, "part-list/score-part/part-name")
    found: list[tuple[Note, bool]] = []
    now, shift, divisions, chord = Fraction(0), 0, 1, ""
    for measure in root.iter("measure"):
        bar, start = int(measure.get("number", "")), now
        for item in measure:
            if item.tag == "attributes":
                divisions = int(text_of(item, "divisions"))
                line.meter = int(text_of(item, "time/beats"))
                shift = 12 * int(text_of(item, "transpose/octave-change", "0"))
            elif item.tag == "harmony":
                chord = xml_chord(item)
                line.chords.append((now, chord))
            elif item.tag == "note" and item.find("grace") is None:
                length = Fraction(int(text_of(item, "duration")), divisions)
                if item.find("rest") is None:
                    place = (bar, now - start + 1, now, length)
                    found.append(xml_note(item, place, shift, chord))
                now += length
        if now - start != line.meter:
            raise ValueError(f"{path.name}: bar {bar} lasts {now - start}")
        line.bars = bar
    line.notes = merge_ties(found)
    return line


def xml_note(
    item: ET.Element,
    place: tuple[int, Fraction, Fraction, Fraction],
    shift: int,
    chord: str,
) -> tuple[Note, bool]:
    """One <note> and whether a tie starts on it."""
    bar, beat, onset, length = place
    letter = text_of(item, "pitch/step")
    midi = 12 * (int(text_of(item, "pitch/octave")) + 1) + NATURAL[letter] + shift
    midi += int(text_of(item, "pitch/alter", "0"))
    head = item.find("notehead")
    dead = head is not None and head.text == "x"
    ghost = head is not None and head.get("parentheses") == "yes"
    starts = any(tie.get("type") == "start" for tie in item.findall("tie"))
    return Note(bar, beat, onset, length, midi, letter, chord, dead, ghost), starts


def read_all() -> list[Line]:
    """Every line of the seed data, in the order of the file names."""
    lines: list[Line] = []
    for path in sorted(SEED.iterdir()):
        if path.suffix == ".abc":
            lines.extend(read_abc(path))
        elif path.suffix == ".musicxml":
            lines.append(read_musicxml(path))
    return lines
