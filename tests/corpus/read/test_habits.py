"""Files as different notation programs export them, one habit a file; what must be played is written here by hand.

How a line is written down: ``bar: notes | bar: notes``, bars as they are played, with the number they bear on the page.
A note is a quarter behind the one before it; ``/2`` gives another length in quarters, ``r`` is a rest, ``x`` a note
without pitch, ``(E3)`` a ghost note, ``{B2}C3`` a grace note before C3, ``C3~`` is tied on. Chords are ``bar: C@0``.
"""

import re
from fractions import Fraction
from pathlib import Path

import pytest

from corpus.model import TICKS_PER_QUARTER, Transcription
from corpus.read.formats import pieces_of, read_piece
from corpus.read.written import ReadingWishes

HABITS = Path(__file__).parent / "habits"
_NOTE = re.compile(r"(?:\{(?P<graces>[^}]*)\})?(?P<ghost>\()?(?P<name>r|x|[A-G][#b]*-?\d)\)?(?:/(?P<length>[\d.:]+))?")

C3, D3, E3, F3, G3, A3, B3 = (" ".join([name] * 4) for name in ("C3", "D3", "E3", "F3", "G3", "A3", "B3"))


def played(name: str, **wishes: str) -> Transcription:
    """The line of a file, played out."""
    path = next(HABITS.glob(f"{name}.*"))
    (piece,) = pieces_of(path.read_bytes(), path.name)
    return read_piece(piece, ReadingWishes(**wishes))  # type: ignore[arg-type]


def _written_by_hand(text: str) -> list[tuple[int, Fraction, Fraction, str, bool, list[str]]]:
    """Bar number, place in the bar, length, spelling, ghost, grace notes of each note of an expectation."""
    found = []
    for bar in text.split(" | "):
        number, _, notes = bar.partition(": ")
        at = Fraction(0)
        for word in notes.split():
            match = _NOTE.fullmatch(word)
            assert match is not None, word
            length = Fraction(match["length"].replace(":", "/")) if match["length"] else Fraction(1)
            if match["name"] != "r":
                graces = match["graces"].split(",") if match["graces"] else []
                name = "" if match["name"] == "x" else match["name"]
                found.append((int(number), at, length, name, match["ghost"] is not None, graces))
            at += length
    return found


def _as_read(line: Transcription) -> list[tuple[int, Fraction, Fraction, str, bool, list[str]]]:
    found = []
    for index, note in enumerate(line.notes):
        bar = line.bar_of(index)
        at = Fraction(note.onset_ticks - bar.onset_ticks, TICKS_PER_QUARTER)
        length = Fraction(note.duration_ticks, TICKS_PER_QUARTER)
        graces = [ornament.spelling for ornament in note.ornaments]
        found.append((bar.number, at, length, note.spelling, note.is_ghost, graces))
    return found


def _chords(line: Transcription) -> str:
    """The chords as they are played, ``bar: symbol@place symbol@place | …``."""
    bars: list[str] = []
    for bar in line.bars:
        inside = [c for c in line.chords if bar.onset_ticks <= c.onset_ticks < bar.onset_ticks + bar.length_ticks]
        places = [f"{c.symbol}@{(c.onset_ticks - bar.onset_ticks) / TICKS_PER_QUARTER:g}" for c in inside]
        bars += [f"{bar.number}: {' '.join(places)}"] if places else []
    return " | ".join(bars)


LINES = {
    # The order of play.
    "ds_al_coda_by_sound": f"1: {C3} | 2: {D3} | 3: {E3} | 4: {F3} | 2: {D3} | 3: {E3} | 5: {G3}",
    "ds_al_coda_by_words": f"1: {C3} | 2: {D3} | 3: {E3} | 4: {F3} | 2: {D3} | 3: {E3} | 5: {G3}",
    "dc_al_fine_by_words": f"1: {C3} | 2: {D3} | 3: {E3} | 4: {F3} | 1: {C3} | 2: {D3}",
    "to_coda_sign_in_a_row": f"1: {C3} | 2: {D3} | 3: {E3} | 1: {C3} | 2: {D3} | 4: {F3}",
    "voltas_then_dc_al_fine": (
        f"1: {C3} | 2: {D3} | 1: {C3} | 3: {E3} | 4: {F3} | 5: {G3} | 1: {C3} | 3: {E3} | 4: {F3}"
    ),
    "ds_with_repeats": (f"1: {C3} | 2: {D3} | 2: {D3} | 3: {E3} | 4: {F3} | 2: {D3} | 2: {D3} | 3: {E3} | 5: {G3}"),
    "endings_one_two_and_three": f"1: {C3} | 2: {D3} | 1: {C3} | 2: {D3} | 1: {C3} | 3: {E3}",
    "sound_in_the_measure": f"1: {C3} | 2: {D3} | 3: {E3} | 1: {C3} | 2: {D3}",
    "two_segnos_two_codas": (
        f"1: {C3} | 2: {D3} | 3: {E3} | 2: {D3} | 4: {F3} | 5: {G3} | 6: {A3} | 4: {F3} | 5: {G3} | 7: {B3}"
    ),
    "bare_coda_sign_twice": f"1: {C3} | 2: {D3} | 3: {E3} | 1: {C3} | 2: {D3} | 4: {F3}",
    "words_with_more_around": f"1: {C3} | 2: {D3} | 3: {E3} | 1: {C3} | 2: {D3} | 4: {F3}",
    "backward_repeat_on_the_left": f"1: {C3} | 2: {D3} | 2: {D3} | 2: {D3} | 3: {E3}",
    "repeat_inside_a_bar": f"0: G2 | 1: {C3} | 2: D3 D3 D3 | 1: {C3} | 2: D3 D3 D3 | 2: E3 | 3: {F3}",
    "bar_repeated_by_sign": f"1: C3 E3 G3 A3 | 2: C3 E3 G3 A3 | 3: {F3}",
    "two_bars_repeated_by_sign": "1: C3/4 | 2: D3/4 | 3: C3/4 | 4: D3/4 | 5: E3/4",
    "rest_of_three_bars": "1: C3/4 | 2: r/4 | 3: r/4 | 4: r/4 | 5: D3/4",
    "pickup_numbered_one": f"0: G2 | 2: {C3} | 3: D3/3",
    "pickup_and_split_bar": "0: G2 | 1: C3 D3 | 1: E3 F3 | 2: G3/4",
    # What is part of the line.
    "two_voices": "1: C5/2 D5/2 | 2: E5/4",
    "hidden_rests": "1: C3 D3 E3 F3 | 2: r/2 G3/2",
    "hidden_notes": "1: C3 D3 r F3",
    "nothing_but_hidden_notes": "1: C3/2 D3/2",
    "cue_notes": "1: r/2 C3/2 | 2: r/2 D3/2",
    "slashes": "1: C3 D3 E3 F3 | 2: r/4 | 3: x/1.5 x/0.5",
    "slash_region": f"1: {C3} | 2: r/4 | 3: r/4 | 4: {D3}",
    "grace_notes": "1: {B2}C3/2 {E3,F3}G3/2 | 2: {A3}B3/4",
    "tremolos": "1: C3/2 E3 G3",
    "unpitched": "1: x x x/2",
    "dead_and_ghost_notes": "1: C3 x (E3) F3",
    "ties_by_print_alone": "1: C3 D3 E3/5 | 2: r/3 F3",
    "triplets": "1: C3/1:3 D3/1:3 E3/1:3 F3 G3/2",
    "double_stops": "1: E3/2 G3/2",
    "backup_before_the_bar": "1: C3 D3 | 2: E3/4",
    "forward_and_new_divisions": "1: C3 D3 r E3 | 2: F3/2 G3/2",
    "meters_change": "1: C3 D3 E3 | 2: F3 G3 | 3: A3/1.5 B3",
    "rehearsal_mark_behind_the_bar": f"1: {C3} | 2: {D3} | 3: {E3}",
    # Sounding pitch.
    "alto_saxophone": "1: C4 E4 G4 A4",
    "tenor_saxophone": "1: C4 E4 G4 C4",
    "trumpet_in_b_flat": "1: C5 E5 G5 C6",
    "double_bass_written_octave": "1: C2 E2 G2 B2",
    "octave_clef": "1: C2 E2 G2 B2",
    "instrument_change": "1: C4/4 | 2: A4/4",
    "octave_shift": "1: C6/2 C5/2",
    # Other wrappings.
    "zipped_with_container": "1: C3/1:3 D3/1:3 E3/1:3 F3 G3/2",
    "zipped_without_container": "1: C3/1:3 D3/1:3 E3/1:3 F3 G3/2",
    "wide_letters": "1: {B2}C3/2 {E3,F3}G3/2 | 2: {A3}B3/4",
    # Humdrum.
    "expansion_with_endings": ("0: C3 | 1: F3 A3 C4 D4 | 2: G3/2 C4/2 | 1: F3 A3 C4 D4 | 3: F3/4 | 4: Bb3/2 C3/2"),
    "chord_under_a_long_note": "1: C3/4 | 2: D3/3 G3",
    "changes_with_rhythm": "1: Bb2 D3 F3 G3 | 2: C3 Eb3 F3 A3",
    "numerals_in_two_keys": "1: C3 G3 | 2: D3 F#3 | 3: C3 B2",
    "spine_splits_inside_a_bar": "1: C3 G3 A3 C4 | 2: G3/2",
    "tuplets_grace_notes_and_ties": "1: C3/1:3 D3/1:3 E3/1:3 {F#3}G3/3 | 2: A3/2:3 B3/2:3 C4/2:3",
    "signs_of_play": "1: C3/4 | 2: D3/4 | 3: E3/4 | 2: D3/4 | 4: F3/4",
    "repeat_inside_a_bar_of_four": "0: G2 | 1: C3 D3 E3 | 1: C3 D3 E3 | 1: F3 | 2: G3/2 C3/2 | 1: F3 | 2: G3/2 C3/2",
    # Where chord symbols stand.
    "chords_by_offset": "1: C3/2 E3/2 | 2: D3/4",
    "chords_after_the_notes": "1: C3 E3 G3 B3",
    "chords_on_rests": "1: r/3 F3 | 2: r/4 | 3: r/2 C3/2",
    "chords_as_words": "1: C3/2 F3/2 | 2: Bb2/4",
    "chord_texts_and_hidden_chords": "1: C3/2 G3/2 | 2: B2/4",
}

CHORDS = {
    "chords_by_offset": "1: Cmaj7@0 F7@2 | 2: Dm7@0 G7@2",
    "chords_after_the_notes": "1: Cmaj7@0 Am7@2",
    "chords_on_rests": "1: F7@0 Bb7@2 | 2: Eb7@0 | 3: Cm7@2",
    "chords_as_words": "1: Cm7@0 F7b9@2 | 2: Bbmaj7@0",
    "chord_texts_and_hidden_chords": "1: N.C.@0 G7alt@2 | 2: Bø7@0 E7#9@2",
    "expansion_with_endings": "1: F6@0 | 2: Gm7@0 C7@2 | 1: F6@0 | 3: Fmaj7@0 | 4: Bb@0 C7@2",
    "chord_under_a_long_note": "1: Cmaj7@0 Am7@2 | 2: Dm7/F@0 G7(b9)@2",
    "changes_with_rhythm": "1: Bbmaj7@0 G7(b13)@2 | 2: Cm7@0 Fsus4@2",
    "numerals_in_two_keys": "1: C@0 G7/B@1 | 2: Dm@0 D7/F#@1 | 3: Cm@0 Bdim7@1",
    "alto_saxophone": "1: C6@0",
    "trumpet_in_b_flat": "1: C@0",
}

REMARKS = {
    "ds_al_coda_by_words": "",
    "two_segnos_two_codas": "",
    "hidden_rests": "",
    "rest_of_three_bars": "",
    "octave_shift": "",
    "triplets": "",
    "hidden_notes": "hidden notes are left out",
    "nothing_but_hidden_notes": "",
    "cue_notes": "cue notes are left out",
    "slashes": "slashes without stems name no notes",
    "slash_region": "slashes without stems name no notes",
    "bar_repeated_by_sign": "signs to repeat the bar before are played out",
    "two_bars_repeated_by_sign": "signs to repeat the bar before are played out",
    "pickup_numbered_one": "is a pickup",
    "tremolos": "a tremolo is read as the notes that it is written on",
    "two_voices": "several voices: the top one is taken",
    "double_stops": "chords: the top note is taken",
    "chords_as_words": "read from plain words",
}


TWO_PARTS = {
    "timewise": ("1: E4/2 | 2: G4/2", "1: C3 D3 | 2: E3/2"),
    "bass_and_horn": ("1: C3/2 G3 E3 | 2: C3/4", "1: E4 F4/0.5 G4/0.5 A4/2 | 2: r/3 C5"),
}


@pytest.mark.parametrize("name", TWO_PARTS)
def test_each_of_two_parts(name: str) -> None:
    """Either part of a file with two, by its number."""
    for number, expected in enumerate(TWO_PARTS[name], start=1):
        assert _as_read(played(name, part=str(number))) == _written_by_hand(expected)


def test_every_file_is_expected() -> None:
    """No file lies about without its line."""
    others = {"signs_over_the_top_part", "chords_in_a_part_of_their_own", "chords_on_both_staves", *TWO_PARTS}
    files = {path.stem for path in HABITS.iterdir()}
    assert files == LINES.keys() | others
    assert len(files) >= 60


@pytest.mark.parametrize("name", LINES)
def test_lines(name: str) -> None:
    """Each note with its bar, place, length and spelling, as a musician would play the page."""
    assert _as_read(played(name)) == _written_by_hand(LINES[name])


@pytest.mark.parametrize("name", CHORDS)
def test_chords(name: str) -> None:
    """Each chord symbol at its place, at sounding pitch."""
    assert _chords(played(name)) == CHORDS[name]


@pytest.mark.parametrize("name", REMARKS)
def test_remarks(name: str) -> None:
    """What is left out or guessed is told; nothing is told where nothing was."""
    texts = [finding.text for finding in played(name).findings if finding.kind == "reading"]
    assert any(REMARKS[name] in text for text in texts) if REMARKS[name] else texts == []


def test_the_other_voice() -> None:
    """The bottom voice, and the bottom note of a double stop; where a bar has one voice, that is the line."""
    expected = _written_by_hand("1: E4 F4 G4/2 | 2: E5/4")
    assert _as_read(played("two_voices", voice="bottom")) == expected
    assert _as_read(played("double_stops", voice="bottom")) == _written_by_hand("1: C3/2 G3/2")
    assert _as_read(played("backup_before_the_bar", voice="bottom")) == _written_by_hand("1: G2/2 | 2: E3/4")


def test_signs_over_the_top_part() -> None:
    """What is printed over the top part holds for the bass: 1 2 3 4 2 3."""
    line = played("signs_over_the_top_part", part="Double bass")
    assert _as_read(line) == _written_by_hand(f"1: {C3} | 2: {D3} | 3: {E3} | 4: {F3} | 2: {D3} | 3: {E3}")


def test_chords_in_a_part_of_their_own() -> None:
    """A part that holds nothing but chords serves the others, whatever its divisions."""
    line = played("chords_in_a_part_of_their_own", part="2")
    assert _chords(line) == "1: Cmaj7@0 | 2: Dm7@0 G7@2"
    assert any("the chord symbols are those of the part Chords" in finding.text for finding in line.findings)


def test_chords_on_both_staves() -> None:
    """A symbol that a program writes once a staff stands there once."""
    line = played("chords_on_both_staves", part="2")
    assert _as_read(line) == _written_by_hand("1: C3/2 G3/2")
    assert _chords(line) == "1: C7@0"


def test_sections() -> None:
    """A rehearsal mark behind the last note of a bar names the next one."""
    line = played("rehearsal_mark_behind_the_bar")
    assert [(section.label, section.onset_ticks // 40_320) for section in line.sections] == [("A", 0), ("B", 2)]


def test_beats_of_a_pickup_and_of_a_split_bar() -> None:
    """Beats count to the bar line: the pickup stands on 4, the second half of the split bar begins on 3."""
    line = played("pickup_and_split_bar")
    assert [line.beat_of(index) for index in range(6)] == [4, 1, 2, 3, 4, 1]
