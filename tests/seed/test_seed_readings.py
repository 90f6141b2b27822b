"""The generated readings against readings written by hand, and the figures of those against the second reader."""

import re
import tomllib
from pathlib import Path
from typing import Any

import pytest

from corpus.model import Transcription
from corpus.pitch import parse_spelling
from corpus.read.formats import pieces_of, read_piece
from corpus.read.written import ReadingWishes
from corpus.reading.account import Account, account
from tests.seed import independent

SEED = Path(__file__).resolve().parents[2] / "seed_data"
READINGS: list[dict[str, Any]] = tomllib.loads((SEED / "answer_key.toml").read_text(encoding="utf-8"))["reading"]
NAMES = [f"{reading['tune']}, {reading['player']}, chorus {reading['chorus']}" for reading in READINGS]


def line_of(reading: dict[str, Any]) -> Transcription:
    """The line that a reading is about, as the program reads it."""
    file = SEED / reading["file"]
    for piece in pieces_of(file.read_bytes(), file.name):
        line = read_piece(piece, ReadingWishes())
        if (line.details.title, line.details.player) == (reading["tune"], reading["player"]):
            return line
    raise AssertionError(reading["tune"])


def told(reading: dict[str, Any]) -> tuple[Transcription, Account]:
    """The line and what the program says of the chorus."""
    line = line_of(reading)
    return line, account(line, reading["chorus"])


def test_there_are_three_readings_of_three_lines() -> None:
    """As many as the issue asks for, each with at least six facts."""
    assert len({(reading["tune"], reading["player"]) for reading in READINGS}) >= 3
    assert all(len(reading["fact"]) >= 6 for reading in READINGS)


@pytest.mark.parametrize("reading", READINGS, ids=NAMES)
def test_every_fact_is_told_in_its_bar(reading: dict[str, Any]) -> None:
    """One of the sentences of the bar holds the words of the fact; sentences that had no room do not count."""
    line, found = told(reading)
    for fact in reading["fact"]:
        texts = [r.text.lower() for r in found.remarks if line.bars[r.bar_index].number == fact["bar"]]
        assert any(fact["says"].lower() in text for text in texts), (fact, texts)


@pytest.mark.parametrize("reading", READINGS, ids=NAMES)
def test_no_other_chord_is_implied_and_the_summary_agrees(reading: dict[str, Any]) -> None:
    """Other chords only in the bars named; roots on first beats, lowest and highest note as written down."""
    line, found = told(reading)
    bars = {line.bars[r.bar_index].number for r in found.remarks if r.kind == "implied"}
    assert bars == set(reading["other_chords"])
    summary = " ".join(sentence.text for sentence in found.summary)
    roots, beats = reading["first_beats"]
    assert f"{roots} of {beats}" in summary
    assert re.search(rf"from {reading['lowest']} .* to {reading['highest']} ", summary)
    assert {line.bars[r.bar_index].number for r in found.remarks} <= set(
        range(reading["first_bar"], reading["last_bar"] + 1)
    )


@pytest.mark.parametrize("reading", READINGS, ids=NAMES)
def test_the_figures_of_the_readings_are_those_of_the_second_reader(reading: dict[str, Any]) -> None:
    """First beats and range counted by the tests' own reader of the files."""
    (line,) = (
        line for line in independent.read_all() if (line.title, line.player) == (reading["tune"], reading["player"])
    )
    notes = [n for n in line.notes if reading["first_bar"] <= n.bar <= reading["last_bar"] and not n.dead]
    first = [n for n in notes if n.beat == 1]
    roots = sum(n.midi % 12 == independent.chord_tones(n.chord)[0] for n in first)
    assert [roots, len(first)] == reading["first_beats"]
    ends = [parse_spelling(reading[name]).pitch for name in ("lowest", "highest")]
    assert [min(n.midi for n in notes), max(n.midi for n in notes)] == ends
