"""The answer key against the notes: every planted occurrence is there, and none is missing.

A disguise is applied to the reference by the rules in the head of the answer key;
what comes out must be what stands in the file, note for note and onset for onset.
Places that hold a figure by chance are held to the pitches and the last onset alone.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from itertools import pairwise
from typing import Any

import pytest

from tests.seed.independent import LETTERS, NATURAL, SEED, Line, Note, read_all

DISGUISES = {
    "plain",
    "transposed",
    "octave",
    "octave note",
    "doubled",
    "stretched",
    "passing note",
    "altered",
    "shifted",
    "cut short",
    "extended",
    "resolved differently",
}
DETAILS = {
    "altered": "altered",
    "octave note": "octave_note",
    "resolved differently": "last",
    "passing note": "passing",
    "cut short": "cut",
    "extended": "added",
    "repeated": "repeated",
}
BY_CHANCE = DISGUISES - {"plain", "shifted", "stretched", "extended"} | {"repeated"}
"""Disguises of places where nothing was planted: rhythm is not told there."""


@dataclass
class Sound:
    """A note to be expected: its pitch, its length and its letter where the figure fixes it."""

    midi: int
    length: Fraction
    letter: str | None


@cache
def figures() -> list[dict[str, Any]]:
    """The figures of the answer key."""
    with (SEED / "answer_key.toml").open("rb") as file:
        loaded: list[dict[str, Any]] = tomllib.load(file)["figure"]
    return loaded


@cache
def lines() -> list[Line]:
    """All lines of the seed data."""
    return read_all()


def occurrences() -> list[tuple[dict[str, Any], dict[str, Any]]]:
    """Each figure with each of its occurrences."""
    return [(figure, found) for figure in figures() for found in figure["occurrence"]]


def chances() -> list[tuple[dict[str, Any], dict[str, Any]]]:
    """Each figure with each place that holds it by chance."""
    return [(figure, found) for figure in figures() for found in figure.get("chance", [])]


def label(value: object) -> str:
    """A readable test name."""
    if not isinstance(value, dict):
        return str(value)
    return value["name"] if "name" in value else f"{value['tune']}-{value['player'].split()[0]}-{value['bar']}"


def named_note(text: str) -> tuple[int, str]:
    """MIDI number and letter of a note name such as Eb3."""
    alter = text.count("#") - text.count("b")
    return 12 * (int(text[-1]) + 1) + NATURAL[text[0]] + alter, text[0]


def position(value: float) -> Fraction:
    """A beat as an exact fraction."""
    return Fraction(value).limit_denominator(12)


def line_of(found: dict[str, Any]) -> Line:
    """The line an occurrence stands in."""
    place = (found["file"], found["tune"], found["player"])
    (line,) = [x for x in lines() if (x.file, x.title, x.player) == place]
    return line


def expected(figure: dict[str, Any], found: dict[str, Any]) -> list[Sound]:
    """The reference in the disguise the key describes."""
    lengths = [Fraction(x) for x in figure["durations"].split()]
    reference = [named_note(x) for x in figure["notes"].split()]
    sounds = [
        Sound(midi + found["transposed"], length, letter)
        for (midi, letter), length in zip(reference, lengths, strict=True)
    ]
    for name in ("altered", "octave_note"):
        if name in found:
            sounds[found[name]["note"] - 1].midi += found[name]["semitones"]
    twice = [sounds[number - 1] for number in found.get("repeated", [])]
    if "last" in found:
        sounds[-1] = Sound(sounds[-1].midi + found["last"], sounds[-1].length, None)
    if "passing" in found:
        after = found["passing"]["after"]
        before = sounds[after - 1]
        before.length /= 2
        sounds.insert(after, Sound(before.midi + found["passing"]["semitones"], before.length, None))
    if "cut" in found:
        sounds = sounds[: -found["cut"]]
    for step in found.get("added", []):
        sounds.append(Sound(sounds[-1].midi + step, sounds[-1].length, None))
    sounds = [sound for sound in sounds for _ in range(1 + any(sound is x for x in twice))]
    if "stretched" in found["disguise"]:
        sounds = [Sound(x.midi, x.length * 2, x.letter) for x in sounds]
    if "doubled" in found["disguise"]:
        sounds = [Sound(x.midi, x.length / 2, x.letter) for x in sounds for _ in range(2)]
    return sounds


def played(found: dict[str, Any], count: int) -> list[Note]:
    """The notes that stand in the file from the place given, so many as asked for."""
    notes = line_of(found).notes
    (start,) = [i for i, n in enumerate(notes) if (n.bar, n.beat) == (found["bar"], position(found["beat"]))]
    return notes[start : start + count]


@pytest.mark.parametrize(("figure", "found"), occurrences(), ids=label)
def test_occurrence_is_the_disguised_reference(figure: dict[str, Any], found: dict[str, Any]) -> None:
    """Pitches, onsets and the two ends of an occurrence are what the disguise makes of the reference."""
    wanted = expected(figure, found)
    notes = played(found, len(wanted))
    assert not any(note.dead for note in notes)
    assert [note.midi for note in notes] == [sound.midi for sound in wanted]
    onsets = [note.onset - notes[0].onset for note in notes]
    assert onsets == [sum((x.length for x in wanted[:i]), Fraction(0)) for i in range(len(wanted))]
    assert_ends(found, notes)


def assert_ends(found: dict[str, Any], notes: list[Note]) -> None:
    """The last of the notes played stands where the key says, the first in the chorus that the key says."""
    last = notes[-1]
    assert (last.bar, last.beat) == (found["to_bar"], position(found["to_beat"]))
    line = line_of(found)
    assert found["chorus"] == (found["bar"] - 1) // line.chorus_bars + 1


@pytest.mark.parametrize(("figure", "found"), chances(), ids=label)
def test_chance_place_holds_the_disguised_pitches(figure: dict[str, Any], found: dict[str, Any]) -> None:
    """Pitches and both ends of a place that holds a figure by chance are what the disguise makes of the reference."""
    wanted = expected(figure, found)
    notes = played(found, len(wanted))
    assert not any(note.dead for note in notes)
    assert [note.midi for note in notes] == [sound.midi for sound in wanted]
    assert_ends(found, notes)


@pytest.mark.parametrize(("figure", "found"), chances(), ids=label)
def test_chance_place_is_named_rightly(figure: dict[str, Any], found: dict[str, Any]) -> None:
    """A chance place wears a disguise that does not tell rhythm, named as its details say, and is no occurrence."""
    assert set(found["disguise"]) <= BY_CHANCE
    assert_named(figure, found)
    assert len(set(found.get("repeated", []))) == len(found.get("repeated", []))
    place = ("tune", "player", "bar", "beat")
    assert [found[x] for x in place] not in [[planted[x] for x in place] for planted in figure["occurrence"]]


@pytest.mark.parametrize(("figure", "found"), occurrences(), ids=label)
def test_occurrence_keeps_the_letters(figure: dict[str, Any], found: dict[str, Any]) -> None:
    """The figure's own notes keep their distance in letters, an altered note included."""
    wanted = expected(figure, found)
    notes = played(found, len(wanted))
    pairs = [(LETTERS.index(n.letter), LETTERS.index(w.letter)) for n, w in zip(notes, wanted, strict=True) if w.letter]
    assert len({(heard - written) % 7 for heard, written in pairs}) == 1


@pytest.mark.parametrize(("figure", "found"), occurrences(), ids=label)
def test_disguise_is_named_rightly(figure: dict[str, Any], found: dict[str, Any]) -> None:
    """Each name of a disguise agrees with the details and with the place."""
    names = set(found["disguise"])
    assert names <= DISGUISES
    assert ("plain" in names) == (names == {"plain"})
    assert ("shifted" in names) == (found["beat"] != figure["occurrence"][0]["beat"])
    assert_named(figure, found)


def assert_named(figure: dict[str, Any], found: dict[str, Any]) -> None:
    """The names of a disguise agree with the transposition and the details, and these are what the names mean."""
    names = set(found["disguise"])
    assert len(names) == len(found["disguise"])
    assert ("transposed" in names) == (found["transposed"] % 12 != 0)
    assert ("octave" in names) == (found["transposed"] != 0 and found["transposed"] % 12 == 0)
    for name, detail in DETAILS.items():
        assert (name in names) == (detail in found), name
    if "passing" in found:
        index = found["passing"]["after"] - 1
        plain = expected(figure, {"transposed": 0, "disguise": []})
        low, high = sorted((plain[index].midi, plain[index + 1].midi))
        assert low < plain[index].midi + found["passing"]["semitones"] < high
    if "altered" in found:
        assert abs(found["altered"]["semitones"]) == 1
    if "octave_note" in found:
        assert abs(found["octave_note"]["semitones"]) == 12


@pytest.mark.parametrize("figure", figures(), ids=label)
def test_figure_is_described(figure: dict[str, Any]) -> None:
    """A figure has 4 to 9 notes, true intervals, a sentence, and is no plain scale fragment."""
    notes = [named_note(x)[0] for x in figure["notes"].split()]
    steps = [b - a for a, b in pairwise(notes)]
    assert 4 <= len(notes) <= 9
    assert steps == figure["intervals"]
    assert not all(0 < x <= 2 for x in steps)
    assert not all(-2 <= x < 0 for x in steps)
    assert figure["description"].endswith(".")
    assert figure["occurrence"][0]["disguise"] == ["plain"]


@pytest.mark.parametrize("figure", figures(), ids=label)
def test_figure_has_every_main_disguise(figure: dict[str, Any]) -> None:
    """Each figure comes plain twice, transposed, an octave away, doubled, with a passing note and altered."""
    worn = [set(found["disguise"]) for found in figure["occurrence"]]
    assert sum(names == {"plain"} for names in worn) >= 2
    assert any(names == {"transposed"} for names in worn)
    assert any(names == {"octave"} for names in worn)
    for wanted in ({"doubled", "stretched"}, {"passing note"}, {"altered"}, {"octave note"}):
        assert any(wanted <= names for names in worn), wanted


def test_figures_are_distinct_and_spread() -> None:
    """No figure contains another, and each is played by several players over several tunes."""
    assert len(figures()) >= 12
    shapes = ["," + ",".join(map(str, figure["intervals"])) + "," for figure in figures()]
    for i, shape in enumerate(shapes):
        assert not any(shape in other for j, other in enumerate(shapes) if i != j)
    for figure in figures():
        assert len({found["player"] for found in figure["occurrence"]}) >= 2
        assert len({found["tune"] for found in figure["occurrence"]}) >= 3


def test_every_disguise_occurs() -> None:
    """The closed set of disguises is used to the full."""
    assert {name for _, found in occurrences() for name in found["disguise"]} == DISGUISES


def test_corpus_is_large_enough() -> None:
    """At least 3 players, 8 tunes, 30 choruses and 4,000 notes, in both formats."""
    assert len({line.player for line in lines()}) >= 3
    assert len({line.title for line in lines()}) >= 8
    assert sum(line.choruses for line in lines()) >= 30
    assert sum(len(line.notes) for line in lines()) >= 4000
    assert len({line.title for line in lines() if line.file.endswith(".musicxml")}) >= 4
    assert len({line.title for line in lines() if line.file.endswith(".abc")}) >= 4


def found_by_force(figure: dict[str, Any]) -> set[tuple[str, str, str, int, Fraction]]:
    """Every place where the intervals of a figure stand in a row, dead notes passed over."""
    steps = figure["intervals"]
    places = set()
    for line in lines():
        notes = line.pitched
        for i in range(len(notes) - len(steps)):
            if all(notes[i + k + 1].midi - notes[i + k].midi == step for k, step in enumerate(steps)):
                places.add((line.file, line.title, line.player, notes[i].bar, notes[i].beat))
    return places


def test_exact_occurrences_are_complete() -> None:
    """Brute force finds the exact intervals of a figure where the key lists them, and nowhere else."""
    for figure in figures():
        listed = set()
        for found in figure["occurrence"]:
            sounds = expected(figure, found)
            steps = [b.midi - a.midi for a, b in pairwise(sounds)]
            if steps[: len(figure["intervals"])] == figure["intervals"]:
                listed.add((found["file"], found["tune"], found["player"], found["bar"], position(found["beat"])))
        assert found_by_force(figure) == listed, figure["name"]


def test_nothing_is_planted_inside_a_repeat() -> None:
    """Lines with written repeats carry no planted figure, so written bars are unambiguous."""
    repeated = {(line.file, line.title, line.player) for line in lines() if line.repeats}
    assert repeated
    for _, found in [*occurrences(), *chances()]:
        assert (found["file"], found["tune"], found["player"]) not in repeated
