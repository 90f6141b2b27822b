"""Keys and spelling, against music21's own transposition and by hand."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from corpus.errors import QueryError
from corpus.harmony.key_spelling import respelled
from corpus.harmony.numerals import parse_numeral
from corpus.pitch import Key, degree_name, fifths_of, parse_key, parse_spelling
from corpus.sheet.frames import numeral_symbol
from corpus.sheet.keys import key_of, key_on, parse_order
from corpus.shelf.kept import KeptFigure, KeptNote
from corpus.transposition import interval_between, moved

MAJOR = ("C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G")
MINOR = ("C", "F", "Bb", "Eb", "G#", "C#", "F#", "B", "E", "A", "D", "G")
FIGURES = {
    "scale": "C3 D3 E3 F3 G3 A3 B3 C4",
    "blue notes": "C3 Eb3 F3 F#3 G3 Bb3",
    "enclosure": "F3 D#3 E3 Ab3 F#3 G3",
    "lowered": "Db3 Eb3 Ab3 Bb3 C4",
}


def in_music21(note: str, home: str, target: str) -> str:
    """A note moved by music21's interval from one tonic up to the other."""
    from music21 import interval, pitch

    def name(text: str) -> str:
        return text[0] + text[1:].replace("b", "-")

    low, high = pitch.Pitch(name(home) + "3"), pitch.Pitch(name(target) + "3")
    # "Up" is by letter names: C to Cb is a diminished unison.
    if high.diatonicNoteNum < low.diatonicNoteNum:
        high.octave += 1  # type: ignore[operator]
    return pitch.Pitch(name(note)).transpose(interval.Interval(low, high)).nameWithOctave.replace("-", "b")


@pytest.mark.parametrize("figure", FIGURES.values(), ids=FIGURES)
@pytest.mark.parametrize("target", [*MAJOR, "Cb", "F#", "C#"])
def test_notes_in_every_key_are_those_of_music21(figure: str, target: str) -> None:
    """From C to fifteen keys. The one difference: what music21 spells with three accidentals (none here)."""
    interval = interval_between(parse_spelling("C"), parse_spelling(target))
    for note in figure.split():
        theirs = in_music21(note, "C", target)
        assert theirs.count("b") < 3
        assert str(moved(parse_spelling(note), interval)) == theirs


@pytest.mark.parametrize("home", MAJOR)
@pytest.mark.parametrize("target", MAJOR)
def test_degrees_stay_from_every_key_to_every_key(home: str, target: str) -> None:
    """The degrees below are the same in all keys, in letters and sound; so music21 says of the notes too."""
    to_home = interval_between(parse_spelling("C"), parse_spelling(home))
    there = interval_between(parse_spelling(home), parse_spelling(target))
    for note in FIGURES["blue notes"].split():
        at_home = moved(parse_spelling(note), to_home)
        away = moved(at_home, there)
        assert degree_name(str(away), Key(target)) == degree_name(note, Key("C"))
        assert str(away) == in_music21(str(at_home), home, target)


def test_simplifying_as_music21_does_would_break_the_degrees() -> None:
    """The lowered third of Gb is Bbb: music21's interval says so; its simplifyEnharmonic makes it A, a raised second.

    We keep the degree. For the notes of the scale both agree, but for Cb and Fb, which it turns into B and E: the
    B naturals that a chord on Cb must not have.
    """
    from music21 import pitch

    gb = interval_between(parse_spelling("C"), parse_spelling("Gb"))
    ours = [str(moved(parse_spelling(note), gb)) for note in ("C3", "Eb3", "E3", "F3")]
    assert ours == ["Gb3", "Bbb3", "Bb3", "Cb4"]
    theirs = [pitch.Pitch(n[0] + n[1:].replace("b", "-")) for n in ours]
    for one in theirs:
        one.simplifyEnharmonic(inPlace=True)
    simple = [one.nameWithOctave for one in theirs]
    assert simple == ["G-3", "A3", "B-3", "B3"]
    assert [pitch.Pitch(n[0] + n[1:].replace("b", "-")).midi for n in ours] == [pitch.Pitch(n).midi for n in simple]


def test_a_triad_on_cb_has_no_b_natural() -> None:
    """Cb Eb Gb, whatever the figure was typed in."""
    for home, notes in (("C", "C3 E3 G3"), ("B", "B2 D#3 F#3"), ("Gb", "Gb2 Bb2 Db3")):
        interval = interval_between(parse_spelling(home), parse_spelling("Cb"))
        assert [str(moved(parse_spelling(note), interval))[:-1] for note in notes.split()] == ["Cb", "Eb", "Gb"]


@pytest.mark.parametrize(
    ("key", "typed", "read"),
    [
        ("Gb", "B3", "Cb4"),  # the fourth
        ("Ab", "C#3 D#3", "Db3 Eb3"),
        ("E", "Ab2 Eb3 Db3", "G#2 D#3 C#3"),
        ("F", "A#2 Bb2", "Bb2 Bb2"),
        ("C", "D# Eb F# Gb G# Ab", "D# Eb F# Gb G# Ab"),  # chromatic notes keep what was meant
        ("C minor", "B2 Cb3 A2", "B2 B2 A2"),  # the raised seventh
        ("Eb minor", "B2 D3", "Cb3 D3"),
        ("F#", "C3 F3", "C3 E#3"),  # the lowered fifth may be one; the seventh is E#
    ],
)
def test_notes_are_read_in_their_own_key_first(key: str, typed: str, read: str) -> None:
    """By hand: a note of the scale takes the letter of the scale, and the sound stays."""
    words = [word if word[-1].isdigit() else f"{word}3" for word in typed.split()]
    wanted = [word if word[-1].isdigit() else f"{word}3" for word in read.split()]
    found = [respelled(parse_spelling(word), parse_key(key)) for word in words]
    assert [str(note) for note in found] == wanted
    assert [note.pitch for note in found] == [parse_spelling(word).pitch for word in words]


@given(st.integers(24, 96), st.integers(0, 11), st.sampled_from(["major", "minor", "dorian", "lydian", "phrygian"]))
def test_respelling_keeps_the_sound_in_every_key(pitch: int, tonic: int, mode: str) -> None:
    """And is done once: a respelled note stays."""
    from corpus.pitch import default_spelling

    key = key_on(tonic, mode)
    once = respelled(parse_spelling(default_spelling(pitch)), key)
    assert once.pitch == pitch
    assert respelled(once, key) == once


def test_the_lowest_notes_keep_names_that_can_be_read() -> None:
    """In C# minor C is B sharp, but not MIDI number 0: its B would lie in an octave that MIDI does not have."""
    key = Key("C#", "minor")
    assert str(respelled(parse_spelling("C0"), key)) == "B#-1"
    assert str(respelled(parse_spelling("C-1"), key)) == "C-1"


@given(st.integers(0, 11), st.sampled_from(["major", "minor", "dorian", "mixolydian", "locrian"]))
def test_every_key_has_a_name_that_a_signature_writes(tonic: int, mode: str) -> None:
    """At most six accidentals."""
    key = key_on(tonic, mode)
    assert key.tonic_pitch_class == tonic
    assert abs(fifths_of(key)) <= 6


def test_orders_of_keys() -> None:
    """Fourths and half-steps from C, major and minor by their usual names; named keys stay as they are named."""
    assert tuple(key.tonic for key in parse_order("fourths", "major")) == MAJOR
    assert tuple(key.tonic for key in parse_order("fourths", "minor")) == MINOR
    assert [key.tonic for key in parse_order("chromatic", "major")][:4] == ["C", "Db", "D", "Eb"]
    assert [str(key) for key in parse_order("C, F# Cb", "major")] == ["C major", "F# major", "Cb major"]
    assert [str(key) for key in parse_order("Am C", "minor")] == ["A minor", "C minor"]


@pytest.mark.parametrize(
    ("text", "mode", "message"),
    [
        ("H", "major", "unknown key"),
        ("Cm", "major", "the figure major"),
        ("Db", "minor", "say C#"),
        ("", "major", "names 0 keys"),
        ("C " * 49, "major", "names 49 keys"),
        ("fifthses", "major", "fourths, chromatic"),
    ],
)
def test_orders_that_are_none_are_refused(text: str, mode: str, message: str) -> None:
    """With the cure."""
    with pytest.raises(QueryError, match=message):
        parse_order(text, mode)


@pytest.mark.parametrize(
    ("notes", "key"),
    [
        ("Bb2 D3 F3 Bb3", "Bb major"),
        ("C3 D3 Eb3 F3 G3 Ab3 B3 C4", "C minor"),
        ("E3 F#3 G#3 A3 B3 E3", "E major"),
        ("F2 A2 C3 Eb3 D3 Bb2", "Bb major"),
    ],
)
def test_a_key_that_nobody_said_is_judged_from_the_notes(notes: str, key: str) -> None:
    """By ear; what is said comes first."""
    figure = KeptFigure("x", tuple(KeptNote(note) for note in notes.split()))
    assert (str(key_of(figure)[0]), key_of(figure)[1]) == (key, False)
    said = KeptFigure("x", figure.notes, key="G")
    assert key_of(said) == (Key("G"), True)


@pytest.mark.parametrize(
    ("numeral", "key", "symbol"),
    [
        ("ii", "Bb", "Cm7"), ("V", "Bb", "F7"), ("I", "Bb", "Bbmaj7"), ("bVI7", "Eb", "Cb7"), ("V/ii", "Gb", "Eb7"),
        ("subV", "C", "Db7"), ("ii7b5", "C minor", "Dm7b5"), ("i", "C minor", "Cm"), ("#ivo", "Bb", "Edim7"),
        ("IV", "Cb", "Fbmaj7"), ("bIII", "Db", "Fb"), ("bIII", "Gb", "A"), ("IV7", "F", "Bb7"),
    ],
)  # fmt: skip
def test_functions_become_chords_spelled_by_their_degree(numeral: str, key: str, symbol: str) -> None:
    """By hand; only a root that would need two accidentals (bIII of Gb: Bbb) is respelled."""
    assert numeral_symbol(parse_numeral(numeral), parse_key(key)).canonical == symbol
