"""Accounts: what is told, what it rests on, and what is not said."""

import pytest

from corpus.errors import RangeError
from corpus.model import Transcription
from corpus.reading.account import Account, account
from corpus.reading.figures import Recurrence, Statement, figures_told
from tests.corpus.profile.lines_help import line
from tests.corpus.profile.test_against_music21 import seed_lines


def texts(found: Account) -> list[str]:
    """All sentences, remarks first."""
    return [*(remark.text for remark in found.remarks), *(summed.text for summed in found.summary)]


@pytest.fixture(scope="module")
def seeds() -> list[Transcription]:
    """All seed lines."""
    return list(seed_lines().values())


def test_every_sentence_of_every_seed_chorus_stands_on_a_finding(seeds: list[Transcription]) -> None:
    """Each remark lies in its chorus, names its notes, says why; no bar has more than two; nothing is told twice.

    A bar of rest has no notes: what follows it is named.
    """
    for transcription in seeds:
        for chorus in sorted({bar.chorus for bar in transcription.bars}):
            found = account(transcription, chorus)
            again = account(transcription, chorus)
            assert (found.remarks, found.summary, found.implied) == (again.remarks, again.summary, again.implied)
            bars = [remark.bar_index for remark in found.remarks]
            assert bars == sorted(bars)
            assert all(bars.count(bar) <= 2 for bar in bars)
            assert len(set(found.remarks)) == len(found.remarks)
            for remark in (*found.remarks, *found.left_out):
                assert remark.why
                after = transcription.notes[remark.first].bar_index - remark.bar_index
                assert after > 0 if "of rest" in remark.text else after == 0
                assert transcription.bars[remark.bar_index].chorus == chorus
            assert all(summed.why for summed in found.summary)


def test_a_kept_ii_is_told_with_its_evidence() -> None:
    """The sentence names the chord written and the chord heard; the finding gives notes and likelihood."""
    found = account(line("Dm7|G7|Cmaj7", "D3 F3 A3 F3 D3 A3 F3 A3 G3 E3 C3 G2", key="C major"))
    (remark,) = (remark for remark in found.remarks if remark.kind == "implied")
    assert remark.text == "ignores the G7 and stays on the ii: Dm7"
    assert remark.why.startswith("D3 A3 F3 A3 over G7: ")
    assert any(summed.text == "The ii is kept over the V in bar 2." for summed in found.summary)


def test_a_dominant_without_its_root_is_told_to_lack_it() -> None:
    """E G Bb G over C6 before F."""
    found = account(line("C6|Fmaj7", "E3 G3 Bb3 G3 A3 C4 F3 A3", key="C major"))
    assert "the b7 over C6 makes it C7 (without its root) and leans to Fmaj7" in texts(found)


def test_figures_that_the_caller_knows_take_their_place() -> None:
    """A recurring figure is told beside the others, in order, and is summed up: 8 of 12 notes, in two places."""
    transcription = line("C|C|C", "C3 E3 G3 E3 A3 B3 A3 B3 C3 E3 G3 E3")
    found = account(
        transcription,
        figures=figures_told(
            transcription, [Recurrence("abc123", (Statement(0, 3), Statement(8, 11)), (), "", 2, 0.001)]
        ),
    )
    told = [remark.text for remark in found.remarks if remark.kind == "figure"]
    assert told == ["figure A (C3 E3 G3 E3) comes back in bar 3", "figure A again as in bar 1"]
    assert any(s.text == "67 % of the notes stand in recurring figures: A (twice)." for s in found.summary)


def test_a_bar_of_rest_and_half_steps_into_first_beats_are_told() -> None:
    """Bar 2 is silent; F# leads into G over the same chord."""
    found = account(line("C7|C7|C7|C7", "C3 E3 C3 E3 r r r r C3 E3 D3 F#3 G3 E3 C3 G2", key="F major"))
    by_bar = {remark.bar_index: remark.text for remark in found.remarks if remark.kind in ("rhythm", "approach")}
    assert by_bar[1] == "a whole bar of rest over C7"
    assert by_bar[2] == "leads from a half-step below to G3, the 5 of C7"


@pytest.mark.parametrize(
    ("chords", "notes", "says"),
    [
        ("-|-", "C3 D3 E3 F3 G3 A3 B3 C4", "no chords: nothing is said about roots"),
        ("C", "C3 E3 G3", "only 3 notes"),
        ("C", "", "there is no note here"),
        ("C|C", "C#3 F#3 G#3 D#3 C#3 F#3 G#3 C#3", "most notes lie outside"),
        ("C", "C3 C3 C3 C3", "no chord changes"),
    ],
)
def test_what_cannot_be_said_is_told_and_nothing_is_made_up(chords: str, notes: str, says: str) -> None:
    """No chords, three notes, none, a melody outside, one note: remarks, and no sentence about implied chords."""
    found = account(line(chords, notes, key="C major"))
    assert any(says in text for text in found.cannot_say), found.cannot_say
    assert not any(remark.kind == "implied" for remark in found.remarks)


def test_a_chorus_that_is_not_there_is_refused() -> None:
    """The message says how many there are."""
    with pytest.raises(RangeError, match="there is no chorus 2: the line has 1"):
        account(line("C", "C3 D3 E3 F3"), 2)
