"""Comparisons: effects, clear differences, sentences with their bars, and the line of only roots."""

from dataclasses import replace

import numpy as np
import pytest

from corpus.model import Transcription
from corpus.pitch import default_spelling
from corpus.profile.columns import columns_of
from corpus.profile.compare import Comparison, compare
from corpus.profile.profile import Profile, profile_of
from corpus.profile.sentences import Side, evidence, sentences
from tests.corpus.profile.lines_help import line
from tests.corpus.profile.test_against_music21 import seed_lines


def profiled(transcription: Transcription) -> Profile:
    """The profile of one line."""
    return profile_of(columns_of(transcription))


def only_roots(transcription: Transcription) -> Transcription:
    """The line with every note replaced by the nearest root of its chord below it."""
    from corpus.harmony.symbols import parse_symbol

    notes = []
    for note in transcription.notes:
        chord = transcription.chord_at(note.onset_ticks)
        if note.pitch is not None and chord is not None:
            root = parse_symbol(chord.symbol).root_pitch_class
            assert root is not None
            pitch = note.pitch - (note.pitch - root) % 12
            note = note._replace(pitch=pitch, spelling=default_spelling(pitch))
        notes.append(note)
    return replace(transcription, notes=tuple(notes))


@pytest.fixture(scope="module")
def seeds() -> dict[tuple[str, str], Transcription]:
    """All seed lines."""
    return seed_lines()


def test_a_line_of_only_roots_is_plainer_than_any_seed_line(seeds: dict[tuple[str, str], Transcription]) -> None:
    """Each seed line that has chords against its own roots, and against the roots of the plainest player's line."""
    plainest = profiled(only_roots(seeds["Coal Dust Blues", "Odile Brakenhoek"]))
    for name, transcription in seeds.items():
        for roots in (profiled(only_roots(transcription)), plainest):
            other = profiled(transcription)
            found = compare(roots, other)
            assert found.plainness is not None
            assert found.plainness > 0.2, name
            told = sentences(Side("The roots", roots, [""]), Side("the line", other, [""]), found)
            assert told[0].text.startswith("The roots is the plainer of the two"), name
            assert "heard as more melodic" in told[0].text


def test_the_plain_seed_player_is_plainer_than_the_melodic_ones(seeds: dict[tuple[str, str], Transcription]) -> None:
    """As SCENARIO.md says of the players: roots and fifths against thirds and fifths on beat 1."""
    plain = profiled(seeds["Lamplighter's Round", "Odile Brakenhoek"])
    melodic = profiled(seeds["Lamplighter's Round", "Anselm Varga-Tindall"])
    found = compare(plain, melodic)
    assert found.plainness is not None
    assert found.plainness > 0.2
    assert {"roots.all", "roots.first_beats", "degrees.first_beats.3"} <= {d.key for d in found.clear}
    told = sentences(Side("one", plain, [""]), Side("two", melodic, [""]), found)
    assert 3 <= len(told) <= 5


def test_turned_round_all_signs_turn(seeds: dict[tuple[str, str], Transcription]) -> None:
    """Difference, interval and effect change sign; the clear differences stay clear."""
    one = profiled(seeds["Coal Dust Blues", "Odile Brakenhoek"])
    two = profiled(seeds["Coal Dust Blues", "Anselm Varga-Tindall"])

    def by_key(found: Comparison) -> dict[str, tuple[float, float, float]]:
        return {d.key: (d.difference, d.effect, d.high) for d in found.differences if d.first.unit == "share"}

    forth, back = by_key(compare(one, two)), {d.key: d for d in compare(two, one).differences}
    for key, (difference, effect, high) in forth.items():
        assert (-back[key].difference, -back[key].effect, -back[key].low) == pytest.approx((difference, effect, high))


def test_a_line_against_itself_has_no_clear_difference(seeds: dict[tuple[str, str], Transcription]) -> None:
    """Nothing differs, and the sentence says so with the notes it had to judge by."""
    one = profiled(seeds["Coal Dust Blues", "Odile Brakenhoek"])
    found = compare(one, one)
    assert found.clear == ()
    (told,) = sentences(Side("one", one, [""]), Side("two", one, [""]), found)
    assert told.text == "No figure differs by more than chance would explain, with 196 and 196 notes to judge by."


def test_halves_of_one_line_differ_clearly_in_next_to_nothing(seeds: dict[tuple[str, str], Transcription]) -> None:
    """Bars dealt out at random: of all figures compared, fewer than one in a hundred is called clear."""
    clear = compared = 0
    source = np.random.default_rng(11)
    for transcription in seeds.values():
        columns = columns_of(transcription)
        odd = source.integers(0, 2, len(columns.bar_number))[columns.bar] == 1
        found = compare(profile_of(replace(columns, inside=odd)), profile_of(replace(columns, inside=~odd)))
        clear += len(found.clear)
        compared += len(found.differences)
    assert compared > 1000
    assert clear < compared / 100


def test_sentences_name_bars_in_which_it_happens() -> None:
    """Roots on the first beats of bars 2, 3 and 4 against none: these bars are named."""
    notes = "E3 G3 C3 E3 C3 E3 G3 E3 C3 G3 E3 C3 C3 E3 G3 C3"
    columns = columns_of(line("C|C|C|C", notes))
    sample = next(s for s in profile_of(columns).samples if s.key == "roots.first_beats")
    assert evidence(columns, sample) == [(0, 2, 1), (0, 3, 1), (0, 4, 1)]


@pytest.mark.parametrize("notes", ["", "x x x x", "C3 D3 E3"])
def test_what_cannot_be_compared_is_left_out(notes: str) -> None:
    """No notes, dead notes, three notes: no error, and nothing is called clear."""
    found = compare(profiled(line("C", notes)), profiled(line("-|-", "C3 D3 E3 F3 G3 A3 B3 C4")))
    assert not found.clear
    assert found.plainness is None
