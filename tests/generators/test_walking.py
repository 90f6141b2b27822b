"""Walking lines do what a bassist's lines do, and can be read like any others."""

import random
from collections import Counter
from itertools import pairwise

import pytest

from corpus.check import check
from corpus.harmony.symbols import parse_symbol
from corpus.model import TICKS_PER_QUARTER, Transcription
from tests.generators.tones import HIGHEST, LOWEST
from tests.generators.walking import KEYS, PROGRESSIONS, Chord, Walker, beats_of, chords_in, line_over


def walked(seed: int, number: int = 0, tonic: str = "Bb") -> Transcription:
    """Two choruses of a progression."""
    progression = PROGRESSIONS[number]
    beats = beats_of(chords_in(progression, tonic) * 2)
    tones = Walker(beats, random.Random(seed)).walk(0, len(beats), None, None)
    return line_over(progression, tonic, 2, tones, "Study", "Player")


LINES = [walked(seed, seed % 3, KEYS[seed % 6]) for seed in range(30)]


def test_the_same_seed_walks_the_same_line() -> None:
    """Another seed another one."""
    assert walked(1) == walked(1)
    assert walked(1) != walked(2)


def test_the_blues_in_b_flat_by_hand() -> None:
    """Twelve bars, a chord or two in each."""
    bars = [" ".join(chord.symbol for chord in bar) for bar in chords_in(PROGRESSIONS[1], "Bb")]
    assert " | ".join(bars) == ("Bb7 | Eb7 | Bb7 | Fm7 Bb7 | Eb7 | Ebm7 Ab7 | Bb7 | G7 | Cm7 | F7 | Bb7 G7 | Cm7 F7")
    beats = beats_of(chords_in(PROGRESSIONS[1], "Bb"))
    assert [(chord.symbol, begins) for chord, begins in beats[12:16]] == [
        ("Fm7", True), ("Fm7", False), ("Bb7", True), ("Bb7", False),
    ]  # fmt: skip


@pytest.mark.parametrize("tonic", KEYS)
@pytest.mark.parametrize("number", range(3))
def test_chords_are_what_their_symbols_say(number: int, tonic: str) -> None:
    """The reader of chord symbols finds the same notes, and the forms have as many bars as chords are written."""
    for bar in chords_in(PROGRESSIONS[number], tonic):
        for chord in bar:
            assert {tone.pitch % 12 for tone in chord.chord_tones()} == set(parse_symbol(chord.symbol).pitch_classes)
            assert [tone.alteration for tone in chord.scale() if abs(tone.alteration) > 2] == []
    line = walked(1, number, tonic)
    assert line.details.form is not None
    assert len(line.bars) == 2 * line.details.form.bars
    assert [bar.chorus for bar in line.bars] == [1] * line.details.form.bars + [2] * line.details.form.bars


def test_flats_and_sharps_across_an_octave() -> None:
    """By hand: C flat sounds as B4 here (71), an octave of letters above C4: C flat 5."""
    assert Chord(11, 0, "maj7").tone(0, 0).spelling == "Cb5"
    assert Chord(11, 0, "maj7").tone(4, 2).spelling == "Eb5"
    assert Chord(5, 3, "7").tone(10, 6).spelling == "Eb5"


def test_chords_begin_on_chord_tones_and_mostly_on_roots() -> None:
    """On the beat where a chord begins every note is of the chord; nearly half are roots, the commonest of all."""
    roots = total = 0
    for line in LINES:
        for i, note in enumerate(line.notes):
            chord = line.chord_at(note.onset_ticks)
            assert chord is not None
            if chord.onset_ticks == note.onset_ticks and note.pitch is not None:
                symbol = parse_symbol(chord.symbol)
                assert note.pitch % 12 in symbol.pitch_classes, (line.details.key, i, note)
                assert symbol.root is not None
                roots += note.pitch % 12 == symbol.root.pitch_class
                total += 1
    assert 0.4 < roots / total < 0.6


def test_chords_are_led_into() -> None:
    """Most notes before a new chord lie a half-step, a step or a fifth away from the first note of it."""
    leads = total = 0
    for line in LINES:
        starts = {chord.onset_ticks for chord in line.chords[1:]}
        for before, after in pairwise(line.notes):
            if after.onset_ticks in starts and before.duration_ticks == TICKS_PER_QUARTER:
                assert before.pitch is not None
                assert after.pitch is not None
                leads += (before.pitch - after.pitch) % 12 in (1, 2, 7, 10, 11)
                total += 1
    assert leads / total > 0.8


def test_a_line_is_a_line() -> None:
    """One note a beat but for a few eighths, no gaps, in range, and the check finds next to nothing."""
    for line in LINES:
        assert all(b.end_ticks == a.onset_ticks for b, a in pairwise(line.notes))
        assert line.notes[-1].end_ticks == line.end_ticks
        assert all(LOWEST <= (note.pitch or 0) <= HIGHEST for note in line.notes)
        assert 0.8 < sum(note.duration_ticks == TICKS_PER_QUARTER for note in line.notes) / len(line.notes) <= 1
    found = Counter(finding.kind for line in LINES for finding in check(line))
    assert set(found) <= {"leap"}
    assert found["leap"] < sum(len(line.notes) for line in LINES) / 25


def test_intervals_are_those_of_walking() -> None:
    """Steps and half-steps are the most, leaps beyond an octave hardly any, few notes are repeated."""
    sizes = Counter(
        abs((after.pitch or 0) - (before.pitch or 0)) for line in LINES for before, after in pairwise(line.notes)
    )
    total = sizes.total()
    assert sum(sizes[size] for size in (1, 2)) / total > 0.3
    assert sizes[0] / total < 0.1
    assert sum(count for size, count in sizes.items() if size > 12) / total < 0.03
