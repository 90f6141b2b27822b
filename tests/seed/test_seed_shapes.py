"""The planted figures that have a name in the trade are found as what they are, in whatever disguise leaves it so.

What each figure is called follows from its description in the answer key: a minor triad on the ninth of a dominant
(lodger), fourths (stile), a root closed in from both sides (keyhole), the third, fifth and root of the chord (kerb),
broken thirds step by step (braid), half-steps up (back stair), a diminished seventh (ratchet).
"""

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from corpus.model import Transcription
from corpus.read.formats import pieces_of, read_piece
from corpus.read.written import ReadingWishes
from corpus.shapes import Kind, Shape, shapes_in, shapes_of, shared_labels
from tests.seed.test_answer_key import figures

SEED = Path(__file__).parents[2] / "seed_data"
KEEPS_PITCHES = {"plain", "transposed", "octave", "shifted", "doubled", "stretched", "extended"}


@dataclass(frozen=True)
class Named:
    """The notes of a figure (numbers from 1) that are a shape, and how its words begin."""

    kind: Kind
    first: int
    last: int
    words: str


NAMED = {
    "lodger": Named("arpeggio", 1, 3, "arpeggio of "),
    "stile": Named("interval cycle", 1, 5, "run of fourths"),
    "keyhole": Named("enclosure", 3, 5, "enclosure of "),
    "kerb": Named("arpeggio", 1, 5, "arpeggio of "),
    "braid": Named("sequence", 1, 8, "sequence: 2 notes, "),
    "back stair": Named("chromatic run", 2, 5, "chromatic run up to "),
    "ratchet": Named("arpeggio", 1, 4, "arpeggio of "),
}


@cache
def seed_lines() -> dict[tuple[str, str], tuple[Transcription, list[Shape]]]:
    """The seed lines with their shapes, by title and player."""
    found = {}
    for path in sorted(SEED.iterdir()):
        if path.suffix in (".abc", ".musicxml"):
            for piece in pieces_of(path.read_bytes(), path.name):
                line = read_piece(piece, ReadingWishes())
                found[line.details.title, line.details.player] = (line, shapes_of(line))
    return found


def planted() -> list[tuple[str, dict[str, Any]]]:
    """The occurrences whose disguise leaves the pitches as they are."""
    return [
        (figure["name"], place)
        for figure in figures()
        if figure["name"] in NAMED
        for place in figure["occurrence"]
        if set(place["disguise"]) <= KEEPS_PITCHES
    ]


def label(value: object) -> str:
    """A readable test name."""
    return f"{value['tune']}-{value['bar']}" if isinstance(value, dict) else str(value)


def start_of(line: Transcription, place: dict[str, Any]) -> int:
    """The index of the first note of an occurrence."""
    for index in range(len(line.notes)):
        bar = line.bar_of(index)
        if (bar.number, bar.pass_number) == (place["bar"], 1) and abs(line.beat_of(index) - place["beat"]) < 0.01:
            return index
    raise AssertionError(place)


@pytest.mark.parametrize(("name", "place"), planted(), ids=label)
def test_a_planted_figure_is_named(name: str, place: dict[str, Any]) -> None:
    """A shape of the kind holds the notes that make it one."""
    named = NAMED[name]
    line, found = seed_lines()[place["tune"], place["player"]]
    each = 2 if "doubled" in place["disguise"] else 1
    start = start_of(line, place)
    first, last = start + each * (named.first - 1), start + each * (named.last - 1)
    fits = [shape for shape in found if shape.kind == named.kind and shape.first <= first and shape.last >= last]
    assert [shape for shape in fits if shape.words.startswith(named.words)], shapes_in(found, first, last)
    if each == 2:
        doubled = [shape for shape in found if shape.kind == "doubled notes"]
        assert [shape for shape in doubled if shape.first <= start and shape.last >= last]


@pytest.mark.parametrize(
    ("name", "label"),
    [
        ("lodger", "arpeggio: minor triad on the 9"),
        ("stile", "run of fourths up"),
        ("keyhole", "enclosure of the 5"),
        ("kerb", "arpeggio of the chord"),
        ("back stair", "chromatic run up"),
        ("thorn", None),
        ("well rope", "enclosure of the 3"),
        ("hod", None),
    ],
)
def test_the_places_of_a_figure_share_its_label(name: str, label: str | None) -> None:
    """What at least half of the places that keep its pitches are called; figures that are no shape share none.

    The keyhole stands mostly in a bar of ii and V, so that the note closed in on is the fifth of the I that follows;
    the well rope ends C A B, which closes in on the third of the V.
    """
    (figure,) = [figure for figure in figures() if figure["name"] == name]
    places = []
    for place in figure["occurrence"]:
        if set(place["disguise"]) <= KEEPS_PITCHES - {"extended"}:
            line, found = seed_lines()[place["tune"], place["player"]]
            start = start_of(line, place)
            notes = len(figure["intervals"]) + 1
            places.append(shapes_in(found, start, start + notes * (2 if "doubled" in place["disguise"] else 1) - 1))
    assert len(places) >= 4
    assert shared_labels(places)[:1] == ([] if label is None else [label])
