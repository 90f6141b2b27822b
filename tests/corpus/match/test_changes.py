"""What was done to a figure, in a musician's words: one small line for each kind of change."""

from dataclasses import replace

import pytest

from corpus.match.exact import Occurrence, Rhythm
from corpus.match.figure import Folds, figure_from_contour, figure_from_notes, figure_from_notes_of
from corpus.match.near import occurrences_near
from corpus.match.prices import Prices
from corpus.match.side_by_side import side_by_side
from corpus.match.sought import sought
from corpus.model import ChordSpan, Transcription
from tests.generators.small import line_from

PRICES = Prices(
    octave=0.1,
    doubled=0.05,
    altered=0.3,
    half_step=0.6,
    resolved=0.5,
    another=1.0,
    passing=0.3,
    neighbour=0.3,
    enclosure=0.3,
    approach=0.4,
    octave_skip=0.3,
    added=0.8,
    left_out=0.7,
    cut=0.6,
    stretched=0.1,
    rhythm=0.2,
)
"""Fixed here: the words of the best way must not change when the table that is shipped does."""
ASKED = "C3 E3 G3 B3 A3 G3"


def over(line: Transcription, symbol: str) -> Transcription:
    """A line over one chord."""
    return replace(line, chords=(ChordSpan(symbol, 0, line.notes[-1].end_ticks),))


def best(found: list[Occurrence]) -> Occurrence:
    """The best of what was found."""
    assert found
    return found[0]


def occurrence(asked: str, played: Transcription, folds: str = "") -> Occurrence:
    """The best place of a figure of typed notes, of which no rhythm is known."""
    return best(occurrences_near(sought(figure_from_notes(asked), Folds.parse(folds), PRICES), played, 0.75))


def words(asked: str, played: Transcription | str, folds: str = "") -> list[str]:
    """What is said of the best place."""
    line = line_from(played) if isinstance(played, str) else played
    return [change.words for change in occurrence(asked, line, folds).changes if change.words]


def words_in_time(asked: str, quarters: str, played: str, played_quarters: str) -> list[str]:
    """What is said of a whole line beside the whole figure, both with rhythm."""
    passage, line = line_from(asked, quarters), line_from(played, played_quarters)
    figure = figure_from_notes_of(passage, 0, len(passage.notes) - 1)
    found = best(occurrences_near(sought(figure, Folds(), PRICES), line, 0.75))
    assert (found.first, found.last) == (0, len(line.notes) - 1)
    return [change.words for change in found.changes if change.words]


@pytest.mark.parametrize("played", [ASKED, "D3 F#3 A3 C#4 B3 A3", "Bb1 D2 F2 A2 G2 F2"])
def test_nothing_is_said_of_a_figure_that_was_not_changed(played: str) -> None:
    """At pitch or in another key, there is no change at all."""
    found = occurrence(ASKED, line_from(played))
    assert (found.likeness, found.changes) == (1.0, ())


@pytest.mark.parametrize(
    ("played", "told"),
    [
        ("C3 E3 G4 B3 A3 G3", "third note an octave higher"),
        ("C3 E3 G3 B3 A2 G3", "fifth note an octave lower"),
        ("C5 E3 G3 B3 A3 G3", "first note two octaves higher"),
        ("C4 E4 G3 B3 A3 G3", "first two notes an octave higher"),
        ("C2 E2 G3 B3 A3 G3", "first two notes an octave lower"),
        ("C3 E3 G3 B3 A4 G4", "from the fifth note on an octave higher"),
        ("C3 E3 G3 B3 A2 G2", "from the fifth note on an octave lower"),
        ("C3 E3 G4 B4 A3 G3", "third and fourth note an octave higher"),
    ],
)
def test_octave_displacement(played: str, told: str) -> None:
    """One note, the first ones, from one on, or some inside: each displaced note pays for its octave."""
    assert words(ASKED, played) == [told]


def test_from_the_third_note_on() -> None:
    """Where fewer notes stand in the other octave than in their own: three of seven."""
    assert words("C3 E3 G3 B3 A3 G3 F3", "C3 E3 G3 B3 A4 G4 F4") == ["from the fifth note on an octave higher"]
    assert words("C3 E3 G3", "C3 E3 G4") == ["third note an octave higher"]
    assert words("C3 D3 E3 C3 G3", "C3 D3 E3 C4 G4") == ["from the fourth note on an octave higher"]


def test_the_first_notes_are_those_of_the_figure() -> None:
    """Where the first is missing, the second and third are not called the first two."""
    assert words("C3 E3 G3 B3 A3 G3 F3 D3", "E4 G4 B3 A3 G3 F3 D3") == [
        "second and third note an octave higher",
        "cut short: the first note missing",
    ]


def test_two_displacements_are_told_one_by_one() -> None:
    """Notes that are not neighbours, or go different ways."""
    assert words(ASKED, "C4 E3 G3 B3 A3 G4") == ["first note an octave higher", "sixth note an octave higher"]
    assert words(ASKED, "C3 E3 G4 B2 A3 G3") == ["third note an octave higher", "fourth note an octave lower"]


def test_octaves_ignored_are_told_and_cost_nothing() -> None:
    """The displacement is still said."""
    found = occurrence(ASKED, line_from("C3 E3 G4 B3 A3 G3"), "octaves")
    assert found.likeness == 1
    assert [change.words for change in found.changes] == ["third note an octave higher"]


def test_every_note_doubled() -> None:
    """It is said once for the whole figure, and nothing else is."""
    assert words(ASKED, "C3 C3 E3 E3 G3 G3 B3 B3 A3 A3 G3 G3") == ["every note doubled"]


@pytest.mark.parametrize(
    ("asked", "played", "told"),
    [
        (ASKED, "C3 E3 E3 G3 B3 A3 G3", "second note doubled"),
        (ASKED, "C3 E3 G3 G3 G3 B3 A3 G3", "third note played three times"),
        ("C3 E3 E3 G3 B3 A3", "C3 E3 G3 B3 A3", "second note not repeated"),
        ("C3 E3 E3 E3 G3 B3 A3", "C3 E3 G3 B3 A3", "second note not repeated"),
        ("C3 C3 E3 G3 B3", "C3 E3 G3 B3", "first note not repeated"),
    ],
)
def test_notes_struck_again(asked: str, played: str, told: str) -> None:
    """More or less often than in the figure."""
    assert words(asked, played) == [told]


def test_an_added_note_keeps_its_kind_however_often_it_is_struck() -> None:
    """A passing note is one when it is struck three times, and so is one that was left out."""
    assert words("C3 E3 G3 B3 A3 G3", "C3 E3 F3 F3 F3 G3 B3 A3 G3") == [
        "passing note added after the second note (F3 F3 F3)"
    ]
    assert words("C3 E3 F3 F3 F3 G3 B3 A3 G3", "C3 E3 G3 B3 A3 G3") == ["notes 3 to 5 left out (passing note)"]


def test_doubles_ignored_are_told_and_cost_nothing() -> None:
    """The repeat is still said."""
    found = occurrence(ASKED, line_from("C3 E3 E3 G3 B3 A3 G3"), "doubles")
    assert found.likeness == 1
    assert [change.words for change in found.changes] == ["second note doubled"]


@pytest.mark.parametrize(
    ("quarters", "told"),
    [
        ("3", "stretched to three times the time"),
        ("2", "stretched to twice the time"),
        ("1/2", "pressed into half the time"),
    ],
)
def test_stretched_and_pressed(quarters: str, told: str) -> None:
    """Quarters become halves or eighths; where rhythm is free this costs nothing, but is said."""
    assert words_in_time(ASKED, "1", ASKED, quarters) == [told]


def test_one_other_length() -> None:
    """A half note in a line of quarters."""
    assert words_in_time(ASKED, "1", ASKED, "1 1 2 1 1 1") == ["other rhythm at the third note"]


@pytest.mark.parametrize(
    ("quarters", "stretched", "same"),
    [
        ("1", 0.0, 0.0),
        ("2", 0.0, 0.1),
        ("1/2", 0.0, 0.1),
        ("1 1 2 1 1 1", 0.2, 0.2),
        ("2 2 1 2 2 2", 0.2, 0.3),
        ("2 1 2 1 1 1", 0.4, 0.4),
        ("1 1 1 1 1 4", 0.0, 0.0),
    ],
)
def test_what_rhythm_costs(quarters: str, stretched: float, same: float) -> None:
    """Another pace of the whole, and each other length; how long the last note is does not count."""
    line = line_from(ASKED)
    asked = sought(figure_from_notes_of(line, 0, 5), Folds(), PRICES)
    rhythms: tuple[tuple[Rhythm, float], ...] = (("any", 0), ("stretched", stretched), ("same", same))
    for rhythm, price in rhythms:
        found = best(occurrences_near(asked, line_from(ASKED, quarters), 0.75, rhythm))
        assert found.likeness == pytest.approx(1 - price / 6, abs=1e-4)


def test_a_passing_note_that_takes_half_of_the_time_of_the_note_before_it_needs_no_other_words() -> None:
    """Two eighths in place of a quarter are how notes are added."""
    told = words_in_time(ASKED, "1", "C3 D3 E3 G3 B3 A3 G3", "1/2 1/2 1 1 1 1 1")
    assert told == ["passing note added after the first note (D3)"]


@pytest.mark.parametrize(
    ("played", "told"),
    [
        ("C3 D3 E3 G3 B3 A3 G3", "passing note added after the first note (D3)"),
        ("C3 E3 F#3 G3 B3 A3 G3", "passing note added after the second note (F#3)"),
        ("C3 E3 G3 A3 A#3 B3 A3 G3", "two passing notes added after the third note (A3 A#3)"),
        ("C3 E3 A3 F#3 G3 B3 A3 G3", "enclosure added before the third note (A3 F#3)"),
        ("C3 F#3 E3 G3 B3 A3 G3", "approach note added before the second note (F#3)"),
        ("C3 E3 G3 G4 B3 A3 G3", "octave skip added after the third note (G4)"),
    ],
)
def test_ornaments_added(played: str, told: str) -> None:
    """Each is called what it is, with where it stands and which note it is."""
    assert words(ASKED, played) == [told]


def test_a_neighbour_note_added() -> None:
    """Between a note and its repeat."""
    assert words("C3 E3 E3 G3 B3", "C3 E3 F3 E3 G3 B3") == ["neighbour note added after the second note (F3)"]


def test_notes_left_out() -> None:
    """A passing note and one that is nothing in particular."""
    assert words(ASKED, "C3 E3 G3 B3 G3") == ["fifth note left out (passing note)"]
    assert words("C3 Ab3 D3 B3 F3 C4 E3", "C3 Ab3 D3 F3 C4 E3") == ["fourth note left out"]


def test_a_third_lowered_over_a_minor_chord_is_named_by_its_degree() -> None:
    """E flat over C minor; without a chord the note is named by its number."""
    asked, played = "C3 D3 E3 G3 F3 C3", line_from("C3 D3 Eb3 G3 F3 C3")
    assert words(asked, over(played, "Cm7")) == ["third lowered (note 3)"]
    assert words(asked, replace(played, chords=())) == ["third note lowered by a half-step"]


def test_a_third_raised_over_a_major_chord() -> None:
    """E natural over C major in a figure with E flat."""
    assert words("C3 D3 Eb3 G3 F3 C3", over(line_from("C3 D3 E3 G3 F3 C3"), "C7")) == ["third raised (note 3)"]


def test_the_same_shape_in_the_other_mode() -> None:
    """Third and sixth lowered on their letters, nothing replaced."""
    played = over(line_from("C3 D3 Eb3 G3 Ab3 G3 F3 C3"), "Cm6")
    assert words("C3 D3 E3 G3 A3 G3 F3 C3", played) == [
        "same shape in the other mode: third lowered (note 3) and sixth lowered (note 5)"
    ]


def test_another_note_and_a_last_note_resolved_differently() -> None:
    """With the interval to the note that was expected."""
    wide = "C3 Ab3 D3 B3 F3 C4 E3"
    assert words(wide, "C3 Ab3 D3 F#3 F3 C4 E3") == ["fourth note replaced by F#3, a perfect fourth lower"]
    assert words(ASKED, "C3 E3 G3 B3 A3 F3") == ["last note resolved differently: F3, a whole step lower"]
    assert words("C3 E3 G3 B3 F3 C4", "C3 E3 G3 B3 F3 D4") == [
        "last note resolved differently: D4, a whole step higher"
    ]
    # Farther off the figure is not resolved at all.
    assert words(ASKED, "C3 E3 G3 B3 A3 D3") == ["cut short: the last note missing"]


@pytest.mark.parametrize(
    ("rest", "told"),
    [
        ("r1", "shifted: starts a beat late"),
        ("r3", "shifted: starts a beat early"),
        ("r2", "shifted: starts two beats late"),
        ("r1/2", "shifted: starts half a beat late"),
        ("r7/2", "shifted: starts half a beat early"),
    ],
)
def test_shifted_in_the_bar(rest: str, told: str) -> None:
    """A figure that begins on the first beat, after a rest; the shorter way is told."""
    assert words_in_time(ASKED, "1", f"{rest} {ASKED}", "1") == [told]


def test_a_shift_is_not_told_where_the_first_note_is_missing() -> None:
    """The rest of the figure stands where it should."""
    assert words_in_time(ASKED, "1", "r1 E3 G3 B3 A3 G3", "1") == ["cut short: the first note missing"]


@pytest.mark.parametrize(
    ("played", "told"),
    [
        ("E3 G3 B3 A3 G3", "cut short: the first note missing"),
        ("G3 B3 A3 G3", "cut short: the first two notes missing"),
        ("C3 E3 G3 B3 A3", "cut short: the last note missing"),
        ("C3 E3 G3 B3", "cut short: the last two notes missing"),
    ],
)
def test_cut_short_at_either_end(played: str, told: str) -> None:
    """How many notes are missing, and where."""
    assert words(ASKED, played) == [told]


@pytest.mark.parametrize(
    ("played", "told"),
    [
        (f"Ab3 D3 {ASKED}", "extended at the beginning: Ab3 D3"),
        (f"{ASKED} D4 F3", "extended at the end: D4 F3"),
    ],
)
def test_extended_at_either_end(played: str, told: str) -> None:
    """Between two passages, what the second has more is told in the order played."""
    one, other = line_from(ASKED), line_from(played)
    found = side_by_side(one, (0, 5), other, (0, 7), Folds(), PRICES)
    assert [change.words for change in found.changes if change.kind == "extended"] == [told]
    assert found.price == 1.2


def test_changes_are_told_together() -> None:
    """An octave, a repeat and a passing note: 0.1, 0.05 and 0.3 of eight notes."""
    found = occurrence("C3 E3 G3 B3 A3 G3 D3 C3", line_from("C4 E3 E3 G3 B3 A3 G3 D3 C#3 C3".replace(" C#3", "")))
    assert [change.words for change in found.changes] == ["first note an octave higher", "second note doubled"]
    assert found.likeness == pytest.approx(1 - 0.15 / 8, abs=1e-4)


def test_a_contour_says_where_it_goes_another_way() -> None:
    """Up where the contour goes down."""
    asked = sought(figure_from_contour("*uuddud"), Folds(), PRICES)
    found = best(occurrences_near(asked, line_from("C3 D3 E3 D3 F3 G3 C3"), 0.5))
    assert [change.words for change in found.changes] == ["goes another way into the fifth note (F3)"]


def test_notes_beyond_the_twelfth_are_told_by_number() -> None:
    """Ordinals end with the twelfth."""
    asked = "C3 D3 E3 F3 G3 A3 B3 C4 D4 E4 F4 G4 A4"
    played = asked.replace("A4", "Ab4")
    assert words(asked, replace(line_from(played), chords=())) == ["note 13 lowered by a half-step"]
