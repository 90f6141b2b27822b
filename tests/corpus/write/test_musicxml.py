"""Round trips, the MusicXML 4.0 schema, and other libraries' reading of what is written."""

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import pytest
from lxml import etree

from corpus.model import TICKS_PER_QUARTER, Details, Transcription
from corpus.pitch import parse_key
from corpus.rework import with_key
from corpus.write.instruments import writing_of
from corpus.write.musicxml import Page, musicxml_of
from tests.corpus.write.seed import abc_line, read_back, seed_lines

LINES = pytest.mark.parametrize("line", seed_lines(), ids=lambda t: f"{t.details.title}-{t.details.player.split()[0]}")

_STUBS = {
    "xml.xsd": '<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" '
    'targetNamespace="http://www.w3.org/XML/1998/namespace">'
    '<xs:attribute name="lang" type="xs:language"/><xs:attribute name="space" type="xs:NCName"/></xs:schema>',
    "xlink.xsd": '<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" '
    'targetNamespace="http://www.w3.org/1999/xlink">'
    + "".join(
        f'<xs:attribute name="{n}" type="xs:token"/>' for n in ("href", "type", "role", "title", "show", "actuate")
    )
    + "</xs:schema>",
}
"""The two schemas that MusicXML's imports from the network: no attribute of theirs is written by us."""


class _Offline(etree.Resolver):  # type: ignore[misc]
    def resolve(self, system_url: str, public_id: str, context: object) -> Any:
        for name, text in _STUBS.items():
            if system_url.endswith(name):
                return self.resolve_string(text, context)
        return None


@lru_cache
def schema() -> etree.XMLSchema:
    """The W3C's MusicXML 4.0 schema, as the PyPI package ``musicxml`` ships it (it is not imported: only the file)."""
    package = find_spec("musicxml")
    assert package is not None
    assert package.origin is not None
    path = Path(package.origin).parent / "generate_classes" / "musicxml_4_0.xsd"
    parser = etree.XMLParser()
    parser.resolvers.add(_Offline())
    return etree.XMLSchema(etree.parse(str(path), parser))


def assert_valid(text: str) -> None:
    """The text is MusicXML 4.0 by its schema."""
    schema().assertValid(etree.fromstring(text.encode()))


def facts(line: Transcription) -> dict[str, object]:
    """What must survive: all but findings."""
    return {
        "notes": line.notes,
        "chords": line.chords,
        "sections": line.sections,
        "details": line.details,
        "bars": line.bars,
    }


@LINES
def test_what_is_written_is_read_as_the_same(line: Transcription) -> None:
    """Notes, chords, sections, details and bars of every seed line."""
    assert facts(read_back(musicxml_of(line))) == facts(line)


@LINES
def test_every_seed_line_is_valid_by_the_schema(line: Transcription) -> None:
    """As a file for other programs, and as it is handed to the engraver."""
    assert_valid(musicxml_of(line))
    assert_valid(musicxml_of(line, Page(first_bar=3, last_bar=9, below={20: "b7"}, for_print=True)))


@LINES
def test_music21_hears_the_same_notes_and_chord_roots(line: Transcription) -> None:
    """A second library (music21 10) reads onsets, durations and sounding pitches alike, ties merged."""
    from music21 import converter

    score: Any = converter.parse(musicxml_of(line), format="musicxml", forceSource=True)
    score = score.toSoundingPitch().stripTies()
    theirs = [
        (Fraction(note.offset), Fraction(note.duration.quarterLength), None if _is_x(note) else note.pitch.midi)
        for note in score.parts[0].flatten().notes
        if "Note" in note.classes and not note.duration.isGrace
    ]
    ours = [
        (Fraction(n.onset_ticks, TICKS_PER_QUARTER), Fraction(n.duration_ticks, TICKS_PER_QUARTER), n.pitch)
        for n in line.notes
    ]
    assert theirs == ours


def _is_x(note: Any) -> bool:
    return bool(note.notehead == "x")


@LINES
def test_verovio_plays_the_same_notes(line: Transcription) -> None:
    """The same library's MIDI values: every note begins when ours does (in milliseconds) at its written pitch.

    Known differences: verovio 6 plays what is written and leaves ``<transpose>`` out; a grace note takes its time (not
    more than 40 ms here) from the note that it stands before.
    """
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    assert toolkit.loadData(musicxml_of(line))
    toolkit.renderToMIDI()
    tempo = line.details.tempo_bpm or 120
    writing = writing_of(line)
    for index, note in enumerate(line.notes):
        if note.pitch is not None:
            played = toolkit.getMIDIValuesForElement(f"note-{index}")
            assert played["pitch"] == note.pitch - writing.semitones - 12 * writing.octaves, index
            assert abs(played["time"] - note.onset_ticks / TICKS_PER_QUARTER * 60_000 / tempo) < (
                40 if note.ornaments else 2
            )


@LINES
def test_verovio_sees_the_same_notes(line: Transcription) -> None:
    """A third library: every note of ours stands in verovio's MEI, with its written name and octave."""
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    toolkit = verovio.toolkit()
    assert toolkit.loadData(musicxml_of(line, Page(concert=True)))
    mei = etree.fromstring(toolkit.getMEI().encode())
    seen = {
        note.get("{http://www.w3.org/XML/1998/namespace}id"): (note.get("pname"), note.get("oct"))
        for note in mei.iter("{*}note")
    }
    octaves = 1 if line.details.instrument == "Double bass" else 0
    for index, note in enumerate(line.notes):
        if note.pitch is not None:
            letter, octave = note.spelling[0].lower(), int(note.spelling[-1]) + octaves
            assert seen[f"note-{index}"] == (letter, str(octave))


HOSTILE = "<script>alert(\"1\")</script> & ]]> 'x'"


def test_titles_are_escaped() -> None:
    """HTML, script and XML signs in titles come back as they were, and change nothing else."""
    line = seed_lines()[0]
    line = replace(line, details=replace(line.details, title=HOSTILE, player=HOSTILE, instrument=HOSTILE + " bass"))
    text = musicxml_of(line)
    assert "<script>" not in text
    assert_valid(text)
    assert facts(read_back(text)) == facts(line)


@pytest.mark.parametrize(
    ("name", "make"),
    [
        ("pickup", lambda: abc_line('z E | "Am7"A4 c4 | "D7"B8 |]', key="C")),
        ("triplets across", lambda: abc_line('"C"(3CDE (3:2:2F2G G4 | (3C2D2E2 (3F2G2A2 |]')),
        ("five and seven", lambda: abc_line("(5CDEFG (7:4:7A/B/c/d/e/f/g/ A2 | c8 |]")),
        ("ties over bars", lambda: abc_line("C6 D2- | D8- | D4 E4 |]")),
        ("six eight", lambda: abc_line("CDE F2G | A6 |]", meter="6/8")),
        ("five four", lambda: abc_line("C2 D2 E2 F2 G2 | C10 |]", meter="5/4")),
        ("off the beat", lambda: abc_line("C3 D3 E2 | C D2 E2 F2 G- | G4 z4 |]")),
        ("short", lambda: abc_line("C/D/E/F/ G/4A/4B/4c/4 d3/2e/ f2 | C7/2 D/ E4 |]")),
        ("grace, ghost, dead", lambda: abc_line("{^FG}A2 {e}d2 !style=x!E2 F2 | G8 |]")),
        ("chords inside a note", lambda: abc_line('"Cmaj7"C8 | "Dm7b5"D4 "G7alt"E4 | "N.C."z8 | "C/E"C8 |]')),
        ("minor, flats", lambda: abc_line("_G2 =G2 _c2 c2 | _G8 |]", key="Ebm")),
    ],
)
def test_written_shapes_come_back(name: str, make: Callable[[], Transcription]) -> None:
    """Pickups, tuplets, ties, compound meters, ornaments: read again as they were, and valid."""
    line = make()
    text = musicxml_of(line)
    assert_valid(text)
    assert facts(read_back(text)) == facts(line), name


@pytest.mark.parametrize("instrument", ["Trumpet", "Tenor saxophone", "Alto sax", "Guitar", "Bass", "Bassoon", "Flute"])
@pytest.mark.parametrize("key", ["C", "Db", "Gb", "B", "F#m", "Abm"])
def test_instruments_are_written_where_they_read_and_sound_where_they_sounded(instrument: str, key: str) -> None:
    """Pitches come back whatever the transposition; spellings too, where the signature has at most seven signs."""
    line = abc_line('"C7"C2 D2 E2 F2 | G2 A2 B2 c2 |]', key=key, instrument=instrument)
    back = read_back(musicxml_of(line))
    assert [note.pitch for note in back.notes] == [note.pitch for note in line.notes]
    if key in ("C", "Db", "Abm", "F#m") or instrument in ("Guitar", "Bass", "Bassoon", "Flute"):
        assert facts(back) == facts(line)


def test_a_trumpet_reads_a_step_higher() -> None:
    """Sounding C is written D, under two sharps (orchestration handbooks, from memory); a bass an octave up."""
    root = etree.fromstring(musicxml_of(abc_line('"C7"C8 |]', instrument="Trumpet")).encode())
    assert [root.findtext(f".//{tag}") for tag in ("pitch/step", "fifths", "root-step", "clef/sign")] == [
        "D",
        "2",
        "D",
        "G",
    ]
    root = etree.fromstring(musicxml_of(abc_line("C,8 |]", instrument="Double bass")).encode())
    assert [root.findtext(f".//{tag}") for tag in ("pitch/octave", "clef/sign", "octave-change")] == ["4", "F", "-1"]


SPELLINGS = ("C-7", "CΔ7", "Cø", "F7(#11)", "Bb7alt", "Db13b9", "G7/B", "Am(maj7)", "E7sus4", "N.C.", "C6/9", "Hm7?")


@pytest.mark.parametrize("symbol", SPELLINGS)
def test_a_chord_symbol_keeps_the_spelling_it_was_typed_in(symbol: str) -> None:
    """What the user wrote is what comes back, even a text that is no chord symbol."""
    line = seed_lines()[0]
    chords = (replace(line.chords[0], symbol=symbol), *line.chords[1:])
    text = musicxml_of(replace(line, chords=chords))
    assert_valid(text)
    assert read_back(text).chords[0].symbol == symbol


def test_an_excerpt_bears_its_bar_numbers_and_the_chord_in_force() -> None:
    """Bars 5 to 6 of a line are numbered 5 and 6; the ids of notes are those of the whole line."""
    line = abc_line('"C7"C8 | D8 | E8 |]')
    root = etree.fromstring(musicxml_of(line, Page(first_bar=1, last_bar=2)).encode())
    assert [bar.get("number") for bar in root.iter("measure")] == ["2", "3"]
    assert [note.get("id") for note in root.iter("note")] == ["note-1", "note-2"]
    assert root.findtext(".//harmony/root/root-step") == "C"


def test_accidentals_are_printed_once_a_bar_with_a_reminder_after_it() -> None:
    """F# F# | F | F: sharp, nothing, a reminder of the natural, nothing."""
    root = etree.fromstring(musicxml_of(abc_line("^F4 F4 | =F8 | F8 |]")).encode())
    printed = [(n.findtext("accidental"), n.find("accidental[@cautionary]") is not None) for n in root.iter("note")]
    assert printed == [("sharp", False), (None, False), ("natural", True), (None, False)]


def test_a_line_without_key_or_details_is_written() -> None:
    """Nothing known but the notes."""
    line = with_key(replace(abc_line("C8 |]"), details=Details()), None)
    assert "<key>" not in musicxml_of(line)
    assert_valid(musicxml_of(line))
    assert [n.pitch for n in read_back(musicxml_of(with_key(line, parse_key("G# minor")))).notes] == [60]
