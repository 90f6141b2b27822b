"""Figures of short lines, counted by hand, and of the seed lines, counted note by note in plain Python."""

from pathlib import Path

import pytest

from cli.output import all_note_fields
from corpus.model import Transcription
from corpus.profile.columns import columns_of, join
from corpus.profile.profile import profile_of
from corpus.profile.samples import Measure
from corpus.read.formats import pieces_of, read_piece
from corpus.read.written import ReadingWishes
from tests.corpus.profile.lines_help import line

SEED = Path(__file__).parents[3] / "seed_data"


def figures(transcription: Transcription) -> dict[str, Measure]:
    """The figures of a line by key."""
    return {measure.key: measure for measure in profile_of(columns_of(transcription)).measures}


def counts(found: dict[str, Measure], *keys: str) -> list[tuple[int | None, int]]:
    """Count and n of some figures."""
    return [(found[key].count, found[key].n) for key in keys]


ROOTS = ("roots.all", "roots.first_beats", "roots.chord_changes")
TWO_FIVE_ONE = line("Dm7|G7|Cmaj7|Cmaj7", "D3 F3 A3 Ab3 G3 B2 D3 B2 C3 E3 G3 A3 G3 E3 D3 C3", "A4", "C major")


def test_roots_are_counted_on_first_beats_and_on_chord_changes() -> None:
    """D, G and C begin three of four bars and all three new chords; the second bar of C is no change."""
    assert counts(figures(TWO_FIVE_ONE), *ROOTS) == [(4, 16), (3, 4), (3, 3)]


def test_kinds_are_counted_by_beat_and_function() -> None:
    """Over ii: D F A and an outside Ab on beat 4; over V: only chord tones; over I: A and D are scale tones."""
    found = figures(TWO_FIVE_ONE)
    assert counts(found, "functions.ii.chord", "functions.ii.outside") == [(3, 4), (1, 4)]
    assert counts(found, "functions.V.chord", "functions.tonic.scale") == [(4, 4), (2, 8)]
    assert counts(found, "kinds.other_beats.outside", "kinds.middle_beats.scale") == [(1, 8), (1, 4)]


def test_chords_are_entered_by_the_interval_into_them() -> None:
    """Ab to G is a half-step from above, B to C one from below; the first chord has no note before it."""
    found = figures(TWO_FIVE_ONE)
    keys = ("entered.half_step_above", "entered.half_step_below", "entered.enclosure", "entered.leap")
    assert counts(found, *keys) == [(1, 2), (1, 2), (0, 2), (0, 2)]
    assert counts(found, "left.outside", "left.half_step") == [(1, 2), (2, 2)]


def test_an_enclosure_is_told_before_the_half_step_that_ends_it() -> None:
    """D and B before C, weak notes a whole step above and a half-step below."""
    found = figures(line("G7|C", "G2*3 D3/2 B2/2 C3*4", key="C major"))
    assert counts(found, "entered.enclosure", "entered.half_step_below") == [(1, 1), (0, 1)]


def test_a_chord_is_entered_from_the_fifth_of_the_note_reached() -> None:
    """G up to C and D down to G come from the fifth; C up to G does not."""
    found = figures(line("G7|C6|G7|C6", "G2*4 C3*2 C3 D3 G2*4 G2*4", key="C major"))
    assert counts(found, "entered.fifth", "entered.same") == [(2, 3), (1, 3)]


def test_leaps_are_recovered_by_a_step_back() -> None:
    """Up a sixth and a step back; down a fifth and a third back; up a fourth and on by step; a second leap in a row."""
    found = figures(line("C|C|C", "C3 A3 G3 C3 E3 A3 B3 E3 A3*4"))
    keys = ("leaps.recovered", "leaps.turned", "leaps.again")
    assert counts(found, *keys) == [(1, 4), (3, 4), (1, 4)]


def test_turns_look_through_repeated_notes() -> None:
    """Up, repeat, down is a turn; up, up is none."""
    found = figures(line("C|C", "C3 E3 E3 C3 D3 E3 r r"))
    assert counts(found, "contour.turns") == [(2, 3)]


def test_rhythm_counts_skips_triplets_and_doubled_notes() -> None:
    """One skip alone between two beats, a bar of triplets, and a note struck twice; doubled eighths are no skips."""
    found = figures(line("C|C|C", "C3 E3/2 E3/2 G3 A3 C3/3 D3/3 E3/3 F3*3 G3/2 G3/2 A3/2 A3/2 B3/2 B3/2 C4/2 C4/2"))
    assert found["rhythm.skips"].count == 1
    assert found["rhythm.triplets"].count == 2
    assert found["rhythm.doubled"].count == 5
    assert found["rhythm.notes_a_bar"].value == pytest.approx((5 + 4 + 8) / 3)


def test_parent_scales_are_told_by_what_is_played() -> None:
    """Only chord tones; the key's major scale; melodic minor; and three notes in half-steps that belong to no scale."""
    found = figures(line("Cmaj7", "C3 E3 G3 B3", key="C major"))
    assert found["scales.arpeggio"].count == 4
    found = figures(line("Cmaj7", "C3 D3 E3 F3", key="C major"))
    assert found["scales.key_major"].count == 4
    found = figures(line("Cm(maj7)|Cm(maj7)", "C3 D3 Eb3 F3 G3 A3 B3 C4", key="C minor"))
    assert found["scales.melodic_minor"].count == 8
    found = figures(line("C|C", "C3*2 F#3*2 F3*2 C#3*2", key="C major"))
    assert found["scales.chromatic"].count == 4


def test_register_is_told_over_the_quarters_of_the_form() -> None:
    """Four bars of one pitch each; without a form nothing is said about quarters."""
    notes = " ".join(f"{name}*4" for name in ("C3", "D3", "E3", "F3"))
    found = figures(line("C|C|C|C", notes, "A4"))
    assert [found[f"register.quarter_{i}"].value for i in (1, 2, 3, 4)] == [48, 50, 52, 53]
    assert figures(line("C|C|C|C", notes))["register.quarter_1"].value is None


@pytest.mark.parametrize(
    ("chords", "notes", "remark"),
    [
        ("-", "C3 D3 E3 F3", "no chords: nothing is said about roots"),
        ("C", "C3 D3 E3", "only 3 notes: the intervals are wide"),
        ("C", "x x x x", "no chords"),
        ("C", "", "there is no note here"),
        ("C", "C#3 F#3 C#3 F#3", "most notes lie outside"),
        ("C", "C3 E3 G3 E3", "no chord changes under a note"),
    ],
)
def test_what_cannot_be_said_is_told(chords: str, notes: str, remark: str) -> None:
    """No chords, one chord, three notes, dead notes, no notes, a melody outside: a remark, never an error."""
    found = profile_of(columns_of(line(chords, notes, key="C major")))
    assert any(remark in text for text in found.remarks), found.remarks
    for measure in found.measures:
        assert (measure.value is None) == (measure.n == 0)


def test_every_figure_of_the_seed_lines_is_what_counting_note_by_note_gives() -> None:
    """Plain Python over the notes as ``show --json`` tells them, line by line."""
    for file in sorted(SEED.glob("*.abc")):
        for piece in pieces_of(file.read_bytes(), file.name):
            transcription = read_piece(piece, ReadingWishes())
            rows = all_note_fields(transcription)
            found = figures(transcription)
            role = [row for row in rows if row["role"]]
            expected = {
                "roots.all": [row["chord_degree"] == "1" for row in role],
                "roots.first_beats": [row["chord_degree"] == "1" for row in role if row["beat"] == 1],
                "kinds.all_notes.outside": [row["role"] == "outside" for row in role],
                "kinds.off_the_beat.scale": [row["role"] == "scale tone" for row in role if row["beat"] % 1],
                "functions.IV.root": [
                    row["chord_degree"] == "1" for row in role if row["numeral"] in ("IV", "iv", "IV7")
                ],
                "functions.ii.chord": [
                    row["role"] == "chord tone"
                    for row in role
                    if (row["numeral"] or "").split("/")[0] in ("ii", "ii7b5")
                ],
                "rhythm.pushes": [row["movement"] == "anticipation" for row in role],
                "rhythm.dead": [row["dead"] for row in rows],
            }
            for key, values in expected.items():
                assert (found[key].count, found[key].n) == (sum(values), len(values)), (transcription.details, key)


def test_joined_lines_have_the_sums_of_their_counts() -> None:
    """The profile of two lines counts what the profiles of each count."""
    first, second = TWO_FIVE_ONE, line("F7|Bb7", "F2 A2 C3 Eb3 D3 C3 Bb2 Ab2", "A2")
    both = {m.key: m for m in profile_of(join([columns_of(first), columns_of(second)])).measures}
    one, two = figures(first), figures(second)
    for key, measure in both.items():
        assert measure.n == one[key].n + two[key].n, key
        if measure.count is not None:
            assert measure.count == (one[key].count or 0) + (two[key].count or 0), key
