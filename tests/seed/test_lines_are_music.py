"""The seed lines measured as a bass teacher would hear them.

Shares are counted over the notes that begin on the beat in question; thresholds
are musical, with a margin below what the lines reach.
"""

from __future__ import annotations

import tomllib
from fractions import Fraction
from functools import cache
from itertools import groupby, pairwise

import pytest

from tests.seed.independent import SEED, Line, Note, chord_tones, read_all

MELODIC = {"Anselm Varga-Tindall", "Tamsin Quellenberg"}
PLAIN = "Odile Brakenhoek"


@cache
def lines() -> list[Line]:
    """All lines of the seed data."""
    return read_all()


def basses() -> list[Line]:
    """The bass lines."""
    return [line for line in lines() if line.instrument == "Double bass"]


def horns() -> list[Line]:
    """The horn lines."""
    return [line for line in lines() if line.instrument == "Trumpet"]


def label(line: Line) -> str:
    """A readable test name."""
    return f"{line.title}-{line.player.split()[0]}"


def fits(note: Note) -> bool:
    """Whether a note belongs to the chord in force."""
    return note.midi % 12 in chord_tones(note.chord)


def on_beat(line: Line, beat: int) -> list[Note]:
    """The notes that begin on a beat, the pickup left out."""
    return [note for note in line.pitched if note.beat == beat and note.bar > 0]


def share(flags: list[bool]) -> float:
    """Share of the true ones."""
    assert flags
    return sum(flags) / len(flags)


def roots_on_one(chosen: list[Line]) -> float:
    """Share of chord roots among the notes on beat 1."""
    return share([note.midi % 12 == chord_tones(note.chord)[0] for line in chosen for note in on_beat(line, 1)])


@cache
def displaced() -> set[tuple[str, str, str, int]]:
    """File, tune, player and bar of every planted octave displacement."""
    with (SEED / "answer_key.toml").open("rb") as file:
        figures = tomllib.load(file)["figure"]
    places = [x for figure in figures for x in figure["occurrence"] if "octave_note" in x]
    return {(x["file"], x["tune"], x["player"], bar) for x in places for bar in range(x["bar"] - 1, x["to_bar"] + 1)}


def moves(line: Line) -> list[tuple[Note, Note]]:
    """Neighbouring notes without a rest between."""
    return [(a, b) for a, b in pairwise(line.pitched) if a.onset + a.duration == b.onset and a.chord]


@pytest.mark.parametrize("line", basses(), ids=label)
def test_bass_range(line: Line) -> None:
    """A bass sounds between its open E and the G above the octave of the G string."""
    assert all(28 <= note.midi <= 67 for note in line.notes)


@pytest.mark.parametrize("line", horns(), ids=label)
def test_horn_range(line: Line) -> None:
    """A horn stays between E3 and C6."""
    assert all(52 <= note.midi <= 84 for note in line.notes)


@pytest.mark.parametrize("line", lines(), ids=label)
def test_strong_beats_are_chord_tones(line: Line) -> None:
    """Beat 1, and beat 3 where the chord changes, fall on chord tones nearly always."""
    strong = on_beat(line, 1)
    assert share([fits(note) for note in strong]) >= 0.9
    changes = {onset for onset, _ in line.chords}
    strong += [note for note in on_beat(line, 3) if note.onset in changes and line.meter == 4]
    assert share([fits(note) for note in strong]) >= 0.9


@pytest.mark.parametrize("line", basses(), ids=label)
def test_approaches_resolve_by_step(line: Line) -> None:
    """A note outside the chord that leads over the bar line moves by step, and most bars are entered so."""
    leading = [(a, b) for a, b in moves(line) if b.beat == 1]
    steps = [abs(b.midi - a.midi) in (1, 2) for a, b in leading]
    assert share(steps) >= 0.6
    assert share([ok for (a, _), ok in zip(leading, steps, strict=True) if not fits(a)]) >= 0.85


def test_melodic_players_avoid_the_root() -> None:
    """Under 45 per cent of the melodic players' beats 1 are roots, in every line and overall."""
    melodic = [line for line in basses() if line.player in MELODIC]
    assert roots_on_one(melodic) < 0.4
    assert all(roots_on_one([line]) < 0.45 for line in melodic)


def test_plain_player_plays_roots() -> None:
    """Over 80 per cent of the plain player's beats 1 are roots."""
    assert roots_on_one([line for line in basses() if line.player == PLAIN]) > 0.8


@pytest.mark.parametrize("line", lines(), ids=label)
def test_no_leap_over_an_octave(line: Line) -> None:
    """Only a planted octave displacement leaps further than an octave."""
    for a, b in moves(line):
        if abs(b.midi - a.midi) > 12:
            assert (line.file, line.title, line.player, a.bar) in displaced(), (a.bar, a.beat)


@pytest.mark.parametrize("line", [x for x in basses() if x.player in MELODIC], ids=label)
def test_neighbouring_bars_differ(line: Line) -> None:
    """No two neighbouring bars of a melodic player are the same."""
    bars = [[(n.beat, n.midi) for n in notes] for _, notes in groupby(line.notes, key=lambda note: note.bar)]
    assert all(a != b for a, b in pairwise(bars))


def test_one_chorus_plays_every_note_twice() -> None:
    """In one whole chorus each pitch is played twice in a row, and only twice on purpose."""
    doubled = []
    for line in basses():
        for chorus in range(line.choruses):
            bars = range(chorus * line.chorus_bars + 1, (chorus + 1) * line.chorus_bars + 1)
            pitches = [note.midi for note in line.notes if note.bar in bars]
            if len(pitches) % 2 == 0 and pitches[::2] == pitches[1::2]:
                doubled.append((line.title, chorus + 1))
    assert doubled == [("The Crooked Stair", 3)]


def test_scale_descents_occur() -> None:
    """Melodic lines walk down the scale: five notes and more, each a step below the last."""
    found = 0
    for line in basses():
        steps = [-2 <= b.midi - a.midi < 0 for a, b in moves(line)]
        found += sum(1 for down, run in groupby(steps) if down and len(list(run)) >= 4)
    assert found >= 20


def test_walking_is_mostly_quarters() -> None:
    """Bass lines walk in quarter notes, with some eighths, triplets, dead notes, ghosts, ties and rests."""
    notes = [note for line in basses() for note in line.notes]
    assert share([note.duration == 1 for note in notes]) > 0.75
    assert any(note.duration == Fraction(1, 3) for note in notes)
    assert sum(note.dead for note in notes) >= 10
    assert sum(note.ghost for note in notes) >= 3
    assert any(note.beat + note.duration > line.meter + 1 for line in basses() for note in line.notes)
    gaps = [b.onset - a.onset - a.duration for line in basses() for a, b in pairwise(line.notes)]
    assert any(gap >= 1 for gap in gaps)


@pytest.mark.parametrize("line", horns(), ids=label)
def test_horns_play_phrases_of_eighths(line: Line) -> None:
    """A horn plays mostly eighths in phrases with rests between them."""
    assert share([note.duration <= Fraction(1, 2) for note in line.notes]) > 0.5
    gaps = [b.onset - a.onset - a.duration for a, b in pairwise(line.notes)]
    assert sum(gap >= Fraction(1, 2) for gap in gaps) >= line.choruses * 3


@pytest.mark.parametrize("line", lines(), ids=label)
def test_whole_choruses(line: Line) -> None:
    """A line holds one to four whole choruses of its form."""
    assert 1 <= line.choruses <= 4
    assert line.repeats or line.bars == line.choruses * line.chorus_bars


def test_a_line_starts_with_a_pickup() -> None:
    """At least one line begins before bar 1."""
    assert any(line.notes[0].bar == 0 for line in lines())
