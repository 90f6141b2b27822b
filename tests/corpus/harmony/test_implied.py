"""Implied harmony: relations and trade facts on lines written by hand, accuracy against human analysts."""

from itertools import pairwise

import pytest

from corpus.harmony.analysis import analyse
from corpus.harmony.implied import Implied, implied_harmony
from corpus.harmony.spelled import Heard, spell
from tests.bench.implied import chorale_cases, judge, made_cases
from tests.corpus.profile.lines_help import line


def implied(chords: str, notes: str, key: str = "C major") -> list[Implied]:
    """What a line in 4/4 spells, stretch by stretch."""
    written = line(chords, notes, key=key)
    return list(implied_harmony(written, analyse(written).spans))


@pytest.mark.parametrize(
    ("chords", "notes", "place", "relation", "symbol"),
    [
        # The plain case: chord tones, with a passing note.
        ("Dm7|G7|Cmaj7", "D3 F3 A3 C4 B3 G3 F3 D3 E3 D3 C3 G2", 1, "agrees", "G7"),
        # A minor cliché over ii-V that resolves to the 5th of I treats the V as absent (common practice, no source).
        ("Dm7|G7|Cmaj7", "D3 F3 A3 F3 D3 A3 F3 A3 G3 E3 C3 G2", 1, "stays on the ii", "Dm7"),
        # The same where both share a bar.
        ("Dm7 G7|Cmaj7", "A3 F3 D3 C3 G3 E3 C3 G2", 1, "stays on the ii", "Dm7"),
        # The third of the V is played: it is there.
        ("Dm7|G7|Cmaj7", "D3 F3 A3 F3 D3 B2 F3 A3 G3 E3 C3 G2", 1, "agrees", "G7"),
        # A b7 over I without its root still makes it a dominant of IV (common practice, no source).
        ("C6|Fmaj7", "E3 G3 Bb3 G3 A3 C4 F3 A3", 0, "leans to IV", "C7"),
        ("Cmaj7|Fmaj7", "C3 E3 G3 Bb3 A3 C4 F3 A3", 0, "leans to IV", "C7"),
        # The major seventh is played as well, and the b7 only passes: nothing leans.
        ("Cmaj7|Am7", "C3 B2 Bb2 B2 A2 C3 E3 G3", 0, "undecided", None),
        # The next chord a bar early, the last one a bar late.
        ("C6|Ab7|G7", "Eb3 Gb3 Ab3 C4 Ab3 Gb3 Eb3 C3 B2 D3 F3 G3", 0, "anticipates", "Ab7"),
        ("Ab7|C6|G7", "Ab3 Gb3 Eb3 C3 Eb3 Gb3 Ab3 Eb3 B2 D3 F3 G3", 1, "delays", "Ab7"),
        # A minor triad on the ninth of a dominant that has no ii before it.
        ("C7|C7|Fmaj7", "C3 E3 G3 Bb3 D4 F4 A4 F4 E4 C4 A3 F3", 1, "superimposes", "Dm"),
    ],
)
def test_what_a_musician_would_name_is_named(
    chords: str, notes: str, place: int, relation: str, symbol: str | None
) -> None:
    """Each reading on a line made for it, as teachers of line playing name them (common practice, no source)."""
    found = implied(chords, notes)[place]
    assert (found.relation, found.symbol) == (relation, symbol), found


def test_a_superimposed_triad_is_named_with_its_degrees() -> None:
    """D, F and A over C7 are 9, 11 and 13."""
    found = implied("C7|C7|Fmaj7", "C3 E3 G3 Bb3 D4 F4 A4 F4 E4 C4 A3 F3")[1]
    assert found.detail == "D minor triad over C7: 9 11 13"


def test_a_dominant_of_iv_may_lack_its_root() -> None:
    """E G Bb over C6: C7 without its root, and it leans to the F that follows."""
    found = implied("C6|Fmaj7", "E3 G3 Bb3 G3 A3 C4 F3 A3")[0]
    assert found.is_rootless
    assert found.detail == "Fmaj7"


def test_a_cadence_five_one_is_heard_without_its_chord() -> None:
    """F to C with G at the end of F and C on the change; where G7 is written it is no news."""
    found = implied("Fmaj7|C6", "F3 A3 C4 G3 C3 E3 G3 C4")
    assert found[0].cadence == "C6"
    assert implied("G7|C6", "F3 D3 B2 G2 C3 E3 G3 C4")[0].cadence is None
    assert implied("Fmaj7|C6", "F3 A3 C4 G3 E3 C3 G3 C4")[0].cadence is None


@pytest.mark.parametrize(
    ("chords", "notes"),
    [
        ("Cmaj7", "C#3 F#3 C#3 F#3"),  # outside, and no chord either
        ("C7", "D3 C3 D3 Eb3"),  # steps that spell nothing
        ("-", "C3 D3 C3 D3"),  # no chord, two notes
        ("G7", "x x x x"),  # no pitch
        ("G7", "r r r r"),  # no note
    ],
)
def test_it_abstains_where_the_notes_do_not_decide(chords: str, notes: str) -> None:
    """No chord is named."""
    (found,) = implied(chords, notes)
    assert found.symbol is None
    assert found.relation in ("undecided", "no chord written")


def test_without_chords_the_line_tells_its_own() -> None:
    """Three bars of a bass without a chord symbol: arpeggios name themselves, a scale fragment does not."""
    found = implied("-|-|-", "D2 F2 A2 C3 G2 B2 D3 F3 C2 D2 E2 D2")
    assert [stretch.symbol for stretch in found] == ["Dm7", "G7", None]


def test_every_bar_is_covered_once_and_transposition_changes_nothing() -> None:
    """Stretches follow each other without gaps; a half-step up all relations are the same."""
    plain = implied("Dm7 G7|C6|Am7 D7|Dm7 G7", "A3 F3 D3 C3 G3 E3 C3 Bb2 A2 C3 F#3 A3 D3 F3 B3 D4")
    raised = implied(
        "D#m7 G#7|C#6|A#m7 D#7|D#m7 G#7", "A#3 F#3 D#3 C#3 G#3 E#3 C#3 B2 A#2 C#3 G3 A#3 D#3 F#3 B#3 D#4", "Db major"
    )
    assert all(one.end_ticks == two.onset_ticks for one, two in pairwise(plain))
    assert [stretch.relation for stretch in plain] == [stretch.relation for stretch in raised]
    assert sum(stretch.note_count for stretch in plain) == 16


def test_probabilities_add_up_and_more_evidence_makes_surer() -> None:
    """One, two and four tones of G7: the right root and third gain from note to note."""
    tones = [7, 11, 2, 5]
    sure = []
    for count in (1, 2, 4):
        ranked = spell([Heard(tone, 1.0, place == 0) for place, tone in enumerate(tones[:count])])
        assert sum(chord.probability for chord in ranked) == pytest.approx(1)
        sure.append(sum(c.probability for c in ranked if c.root == 7 and not c.has_minor_third))
    assert sure == sorted(sure)
    assert ranked[0].suffix == "7"


def test_it_beats_plain_templates_on_the_bass_and_soprano_of_chorales() -> None:
    """On the half of the analysts' chords that was held out: mir_eval's templates in Harte's spelling, the same notes.

    Where it answers it is right four times in five.
    """
    tally = judge(chorale_cases(1))["all"]
    assert tally.cases > 400
    assert tally.ours > 1.2 * tally.templates
    assert tally.told_right / tally.told > 0.8


def test_it_beats_plain_templates_on_lines_made_from_known_chords() -> None:
    """Four quarters a bar with none, one and two notes that do not belong; it answers less where less can be known."""
    answered = []
    for foreign in (0, 1, 2):
        tally = judge(made_cases(foreign, 400))["all"]
        assert tally.ours > tally.templates
        assert tally.told_right / tally.told > tally.ours / tally.cases
        answered.append(tally.told / tally.cases)
    assert answered == sorted(answered, reverse=True)
