"""Numerals: their spelling, and textbook progressions read as a musician reads them."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from corpus.errors import QueryError
from corpus.harmony.functions import Numeral, Quality, numeral_pattern, parse_numeral
from corpus.harmony.hearing import hear
from corpus.harmony.symbols import read_symbol, transpose_symbol
from tests.corpus.harmony.charts_help import analysed, expected, found, numerals
from tests.corpus.harmony.textbook import HELD_OUT, TUNED, Textbook

CANONICAL = [
    "I",
    "ii",
    "iii",
    "IV",
    "V",
    "vi",
    "V/ii",
    "V/V",
    "ii/IV",
    "ii7b5/vi",
    "subV",
    "subV/V",
    "bVII7",
    "iv",
    "#io",
    "biiio",
    "bVI",
    "bIII",
    "ii7b5",
    "viio",
    "I7",
    "IV7",
    "I+",
    "Vsus",
    "Isus",
    "I5",
    "Vmaj7",
    "v",
    "bVI7/IV",
    "V+",
    "V+/ii",
    "Vsus/V",
    "#iv7b5",
]


@pytest.mark.parametrize("text", CANONICAL)
def test_canonical_spelling_is_read_and_written_the_same(text: str) -> None:
    """Every canonical numeral comes back as it was typed."""
    assert str(parse_numeral(text)) == text


@pytest.mark.parametrize(
    ("typed", "canonical"),
    [
        ("V7", "V"),
        ("V7b9", "V"),
        ("V9", "V"),
        ("V7/ii", "V/ii"),
        ("ii7", "ii"),
        ("ii-7", "ii"),
        ("iim7", "ii"),
        ("Imaj7", "I"),
        ("I6", "I"),
        ("ii-7b5", "ii7b5"),
        ("iim7b5", "ii7b5"),
        ("iiø", "ii7b5"),
        ("ii/o7", "ii7b5"),
        ("#io7", "#io"),
        ("♯i°7", "#io"),
        ("♭VII7", "bVII7"),
        ("bII7", "subV"),
        ("subV7", "subV"),
        ("bII7/V", "subV/V"),
        ("V7sus4", "Vsus"),
        ("imaj7", "i"),
        (" ii ", "ii"),
    ],
)
def test_other_spellings_mean_the_same(typed: str, canonical: str) -> None:
    """Sevenths and other usual signs may be typed, and change nothing."""
    assert parse_numeral(typed) == parse_numeral(canonical)
    assert str(parse_numeral(typed)) == canonical


@pytest.mark.parametrize(
    "text", ["", "VIII", "iI", "h", "V/", "V/x", "ii/IV/V", "subii", "bsubV", "Io", "i+", "V|subV", "*", "sub", "7"]
)
def test_other_text_is_refused(text: str) -> None:
    """What is no numeral is refused with the text in the message."""
    with pytest.raises(QueryError, match="numeral"):
        parse_numeral(text)


@pytest.mark.parametrize(
    ("text", "semitones"),
    [("I", 0), ("V/ii", 9), ("ii/IV", 7), ("subV", 1), ("subV/V", 8), ("bVII7", 10), ("#io", 1), ("ii7b5/vi", 11)],
)
def test_root_above_the_tonic(text: str, semitones: int) -> None:
    """The root of an applied chord counts from its target."""
    assert parse_numeral(text).root_semitones == semitones


@pytest.mark.parametrize(
    ("pattern", "numeral", "answers"),
    [
        ("VI", "V/ii", True),
        ("VI7", "V/ii", True),
        ("vi", "V/ii", False),
        ("V/ii", "V/ii", True),
        ("V/ii", "VI", False),
        ("ii", "ii7b5", True),
        ("ii7b5", "ii", False),
        ("ii", "iio", False),
        ("V", "Vsus", True),
        ("V7", "V", True),
        ("V", "subV", False),
        ("subV", "subV", True),
        ("subV", "V", False),
        ("III7", "V/vi", True),
        ("II7", "V/V", True),
        ("I", "I7", True),
        ("I", "V/IV", True),
        ("i", "i", True),
        ("I", "i", False),
        ("bVII7", "bVII7", True),
    ],
)
def test_pattern_answers(pattern: str, numeral: str, answers: bool) -> None:
    """A pattern without target asks for degree and third, one with a target for the function."""
    assert numeral_pattern(pattern).matches(parse_numeral(numeral)) is answers


def test_no_chord_answers_nothing() -> None:
    """A span without numeral never matches."""
    assert not numeral_pattern("I").matches(None)


@given(
    st.integers(1, 7),
    st.integers(-1, 1),
    st.sampled_from(list(Quality)),
    st.none() | st.sampled_from(["ii", "iii", "IV", "V", "vi", "bIII"]),
)
def test_every_numeral_is_read_back_from_its_text(
    degree: int, alteration: int, quality: Quality, target: str | None
) -> None:
    """Writing a numeral and reading it gives the same numeral."""
    numeral = Numeral(degree, alteration, quality, None if target is None else parse_numeral(target))
    assert parse_numeral(str(numeral)) == numeral


def test_there_are_sixty_textbook_progressions_in_two_halves() -> None:
    """The two halves are of equal size and share no chart."""
    assert len(TUNED) == len(HELD_OUT) >= 30
    assert not {one.chart for one in TUNED} & {one.chart for one in HELD_OUT}


@pytest.mark.parametrize("progression", TUNED, ids=lambda progression: progression.name)
def test_textbook_progression_tuned_half(progression: Textbook) -> None:
    """Keys and numerals of every progression that the costs were tuned on."""
    assert found(progression.chart) == expected(progression.numerals)


def test_textbook_progressions_held_out_half() -> None:
    """Of the 34 progressions held out while tuning at most two are misread; ``make bench`` names them.

    Known and open: the ii of a second ii-V-I a minor third lower is heard in the first key, and an augmented I on the
    way to IV as V/IV already.
    """
    misread = [one.name for one in HELD_OUT if found(one.chart) != expected(one.numerals)]
    assert len(HELD_OUT) == 34
    assert len(misread) <= 2, misread


WORDS = st.sampled_from(TUNED + HELD_OUT).map(lambda one: one.chart.replace("|", " | ").split()) | st.lists(
    st.sampled_from(
        [
            "C6",
            "Am7",
            "Dm7",
            "G7",
            "A7",
            "Db7",
            "Gm7",
            "C7",
            "F6",
            "Fm6",
            "Bb7",
            "C#dim7",
            "Bm7b5",
            "E7",
            "E+",
            "Gsus4",
            "N.C.",
            "huh",
            "|",
        ]
    ),
    max_size=24,
)


@given(WORDS, st.integers(1, 11))
@settings(max_examples=200, deadline=None)
def test_transposing_moves_the_keys_and_leaves_the_numerals(words: list[str], semitones: int) -> None:
    """Any chart in another key has the same numerals, and its keys are moved by as much."""
    moved = [_transposed(word, semitones) for word in words]
    before, after = found(_chart(words)), found(_chart(moved))
    assert [numeral for _, numeral in after] == [numeral for _, numeral in before]
    for (tonic, mode), (moved_tonic, moved_mode) in zip(
        (key for key, _ in before), (key for key, _ in after), strict=True
    ):
        assert moved_mode == mode
        assert not mode or moved_tonic == (tonic + semitones) % 12


def _chart(words: list[str]) -> str:
    return " ".join(words) if "%" in words else "|".join(word for word in words if word != "|") or "N.C."


def _transposed(word: str, semitones: int) -> str:
    symbol = read_symbol(word)
    return word if symbol is None or symbol.root is None else transpose_symbol(symbol, semitones).text


def test_mixolydian_on_one_is_the_scale_of_four() -> None:
    """Mixolydian on I is the major scale of IV (common practice): I7 is the V of IV."""
    mixolydian = {0, 2, 4, 5, 7, 9, 10}
    assert {(5 + step) % 12 for step in (0, 2, 4, 5, 7, 9, 11)} == mixolydian
    dominant = parse_numeral("V/IV")
    assert (dominant.root_semitones, dominant.quality) == (0, Quality.DOMINANT)
    assert numerals("Cmaj7|C7|Fmaj7|Dm7 G7|Cmaj7") == "I V/IV IV ii V I"


def test_diatonic_turnaround_is_one_major_scale() -> None:
    """All chords of I-vi-ii-V lie in one major scale, the scale of the key that is found (common practice)."""
    analysis = analysed("Ebmaj7 Cm7|Fm7 Bb7")
    assert analysis.home is not None
    tonic = analysis.home.tonic_pitch_class
    scale = {(tonic + step) % 12 for step in (0, 2, 4, 5, 7, 9, 11)}
    for span in analysis.spans:
        assert span.symbol is not None
        assert set(span.symbol.pitch_classes) <= scale


@pytest.mark.parametrize(
    ("chart", "declared", "wanted"),
    [
        ("Eb6 Ab7|Dm7 G7|Cm7 F7|Bb6", "Bb", "IV bVII7 iii V/ii ii V I"),
        ("Bb7|Eb6|Ab7|Bb6", "Bb", "V/IV IV bVII7 I"),
        ("Cmaj7|Bb7|A7|Dm7 G7|Cmaj7", "C", "I subV/vi V/ii ii V I"),
        ("C|C/Bb|F/A|Fm/Ab|C/G", "C", "I V/IV IV iv I"),
        ("F|G/F|F|C7|F", "F", "I V/V I V I"),
        ("Bb6 Db7|Gbmaj7 Cb7|Bb6", "Bb", "I bIII7 bVI subV I"),
        ("Bb6 Db7|Gb7 B7|Bb6", "Bb", "I bIII7 bVI7 subV I"),
        ("C|F|C|F|Fm6|C", None, "I IV I IV iv I"),
        ("F7|C7|Bb7|%|F7|C7|F7|C7", None, "I7 V IV7 I7 V I7 V"),
    ],
)
def test_functions_that_neighbours_explain(chart: str, declared: str | None, wanted: str) -> None:
    """Backdoor from IV to I or iii, a triad over its seventh, substitutes in a row, minor plagal, V-IV-I of the blues.

    Common practice, no source.
    """
    assert numerals(chart, declared) == wanted


def test_a_triad_over_its_seventh_is_a_dominant_unless_the_bass_is_held() -> None:
    """C/Bb moving to F/A is C7 in third inversion; G/F between two F chords is a triad over a pedal."""
    moving, held = (_heard_as(text) for text in ("C C/Bb F/A", "F G/F F"))
    assert moving == ["T", "D", "T"]
    assert held == ["T", "T", "T"]


def _heard_as(symbols: str) -> list[str]:
    """The kinds as which chords are heard among each other."""
    return [chord.kind for chord in hear([read_symbol(text) for text in symbols.split()]) if chord is not None]
