"""Simplification of charts, level by level."""

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from corpus.harmony.levels import LevelSpan, simplify
from tests.corpus.harmony.charts_help import BAR_TICKS, analysed


def _level(chart: str, level: int) -> tuple[LevelSpan, ...]:
    return analysed(chart).levels[level]


def _numerals(chart: str, level: int) -> str:
    return " ".join("-" if span.numeral is None else str(span.numeral) for span in _level(chart, level))


@pytest.mark.parametrize(
    ("chart", "first", "second"),
    [
        ("Cmaj7 Am7|Dm7 G7|Cmaj7", "I vi V I", "I V I"),
        ("Bb6 G7|Cm7 F7|Bb6", "I V/ii V I", "I V I"),
        ("Dm7 G7|Cm7 F7|Bb6|%", "iii V/ii V I", "iii V I"),
        ("Cmaj7 C#dim7|Dm7 G7|Cmaj7", "I #io V I", "I V I"),
        ("Dmaj7 Fdim7|Em7 A7|Dmaj7", "I biiio V I", "I V I"),
        ("Bb6|Fm7 Bb7|Eb6|Cm7 F7|Bb6", "I V/IV IV V I", "I V/IV IV V I"),
        ("Em7 A7|Ebm7 Ab7|Dm7 G7|Cmaj7", "iii V/ii subV/V V I", "iii subV/V V I"),
        ("Bm7b5|E7|Am6|%", "V i", "V i"),
        ("Dm7|G7sus4 G7|Cmaj7|%", "V I", "V I"),
        ("Cmaj7|Am7 D7|Dm7 G7|Cmaj7", "I vi V/V V I", "I V/V V I"),
        ("Cmaj7|N.C.|Dm7 G7|Cmaj7", "I - V I", "I - V I"),
        ("Bb6|%|Am7 D7|Dm7 G7|Gm7 C7|Cm7 F7|Bb6|%", "I V/vi V/ii V/V V I", "I V/vi V/ii V/V V I"),
        ("Bb6|%|Am7|D7|Dm7|G7|Gm7|C7|Cm7|F7|Bb6|%", "I V/vi V/ii V/V V I", "I V/vi V/ii V/V V I"),
    ],
)
def test_ii_then_vi_are_absorbed(chart: str, first: str, second: str) -> None:
    """Level 1 leaves out the ii of every ii-V, level 2 also the passing vi."""
    assert _numerals(chart, 1) == first
    assert _numerals(chart, 2) == second


def test_turnaround_becomes_a_bar_of_one_and_a_bar_of_five() -> None:
    """I-VI-ii-V in two bars is, at level 2, a bar of I and a bar of V, each standing for two chords."""
    one, five = _level("Bb6 G7|Cm7 F7", 2)
    assert (one.onset_ticks, one.end_ticks, one.chords) == (0, BAR_TICKS, (0, 2))
    assert (five.onset_ticks, five.end_ticks, five.chords) == (BAR_TICKS, 2 * BAR_TICKS, (2, 4))


def test_bridge_of_dominants_keeps_its_chords() -> None:
    """No dominant of the bridge is a passing vi: all four stay until level 3."""
    assert _numerals("Bb6|D7|%|G7|%|C7|%|F7|%|Bb6", 2) == "I V/vi V/ii V/V V I"


def test_iis_put_between_dominants_leave_the_bridge_as_it_is() -> None:
    """D7 Am7 D7, G7 Dm7 G7 and so on is the bridge of dominants again, and so is Am7 D7 Dm7 G7 Gm7 C7 Cm7 F7."""
    for bridge in ("D7|Am7 D7|G7|Dm7 G7|C7|Gm7 C7|F7|Cm7 F7", "Am7 D7|Dm7 G7|Gm7 C7|Cm7 F7"):
        spans = analysed(f"Bb6|%|{bridge}|Bb6|%", "Bb").levels[1]
        assert [str(span.numeral) for span in spans] == ["I", "V/vi", "V/ii", "V/V", "V", "I"]


def test_level_three_is_one_span_a_key() -> None:
    """Each passage in one key is one span, called its tonic."""
    spans = _level("Gmaj7|%|Gm7|C7|Fmaj7|%|Fm7|Bb7|Ebmaj7|%", 3)
    assert [str(span.key) for span in spans] == ["G major", "F major", "Eb major"]
    assert [str(span.numeral) for span in spans] == ["I", "I", "I"]
    assert [span.chords for span in spans] == [(0, 1), (1, 4), (4, 7)]


def test_level_zero_is_the_chart_as_written() -> None:
    """One span for each symbol, even where the symbol is repeated."""
    assert _numerals("C6|C6|Dm7 G7|C6", 0) == "I I ii V I"


def test_an_unknown_level_is_refused() -> None:
    """There are four levels."""
    with pytest.raises(ValueError, match="not one of 0, 1, 2, 3"):
        simplify(analysed("C6").spans, 4)


@given(
    st.lists(
        st.sampled_from(
            ["C6", "Am7", "Dm7", "G7", "A7", "D7", "Gm7", "C7", "F6", "Fm6", "Bb7", "C#dim7", "Em7", "N.C.", "huh"]
        ),
        max_size=30,
    )
)
def test_every_level_covers_the_chart(symbols: list[str]) -> None:
    """Spans of a level follow each other without gap, name every written chord once, and never grow in number."""
    if not symbols:
        return
    analysis = analysed("|".join(symbols))
    for finer, coarser in zip(analysis.levels, analysis.levels[1:], strict=False):
        assert len(coarser) <= len(finer)
    for spans in analysis.levels:
        assert [index for span in spans for index in range(*span.chords)] == list(range(len(symbols)))
        assert spans[0].onset_ticks == 0
        assert all(one.end_ticks == other.onset_ticks for one, other in pairwise(spans))
