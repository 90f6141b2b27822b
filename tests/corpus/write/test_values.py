"""Note values, ties, tuplets and beams: worked out by hand after common practice (no source)."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from corpus.model import TICKS_PER_QUARTER, Bar, Meter
from corpus.write.values import VALUE_TICKS, Piece, written_bar

Q = TICKS_PER_QUARTER


def bar(meter: str = "4/4") -> Bar:
    """A full bar of a meter."""
    above, below = (int(x) for x in meter.split("/"))
    made = Meter(above, below)
    return Bar(1, 1, 0, made.bar_ticks, 0, made)


def shown(pieces: list[Piece]) -> str:
    """Pieces in short: ``half. quarter~ ~eighth r:quarter``; tuplets as ``eighth/3``."""
    words = []
    for piece in pieces:
        tuplet = f"/{piece.tuplet.actual}" if piece.tuplet else ""
        tie_before, tie_after = "~" if piece.tied_from else "", "~" if piece.tied_to else ""
        rest = "r:" if piece.source is None else ""
        words.append(f"{tie_before}{rest}{piece.kind}{'.' * piece.dots}{tuplet}{tie_after}")
    return " ".join(words)


@pytest.mark.parametrize(
    ("meter", "quarters", "expected"),
    [
        ("4/4", [4], "whole"),
        ("4/4", [3, 1], "half. quarter"),
        ("4/4", [1, 2, 1], "quarter half quarter"),
        ("4/4", [1, 3], "quarter quarter~ ~half"),
        ("4/4", [0.5, 1, 0.5, 2], "eighth quarter eighth half"),
        ("4/4", [1.5, 1, 1.5], "quarter. eighth~ ~eighth eighth~ ~quarter"),
        ("4/4", [1.5, 0.5, 2], "quarter. eighth half"),
        ("4/4", [0.75, 0.25, 3], "eighth. 16th quarter~ ~half"),
        ("4/4", [2.5, 1.5], "half~ ~eighth eighth~ ~quarter"),
        ("3/4", [3], "half."),
        ("3/4", [1, 2], "quarter half"),
        ("6/8", [1.5, 0.5, 0.5, 0.5], "quarter. eighth eighth eighth"),
        ("6/8", [3], "half."),
        ("6/8", [1, 2], "quarter eighth~ ~quarter."),
        ("4/4", [1 / 3, 1 / 3, 1 / 3, 3], "eighth/3 eighth/3 eighth/3 quarter~ ~half"),
        ("4/4", [2 / 3, 1 / 3, 3], "quarter/3 eighth/3 quarter~ ~half"),
        ("4/4", [2 / 3, 2 / 3, 2 / 3, 2], "quarter/3 quarter/3 quarter/3 half"),
        ("4/4", [0.2, 0.2, 0.2, 0.2, 0.2, 3], "16th/5 16th/5 16th/5 16th/5 16th/5 quarter~ ~half"),
    ],
)
def test_lengths_are_written_as_musicians_write_them(meter: str, quarters: list[float], expected: str) -> None:
    """Beats and the middle of the bar stay visible; syncopations are one note."""
    at, spans = 0, []
    for index, length in enumerate(quarters):
        end = at + round(length * Q)
        spans.append((index, at, end))
        at = end
    assert shown(written_bar(bar(meter), spans)) == expected


def test_rests_show_the_beats() -> None:
    """Silence from the second beat: a quarter rest, then a half rest; an empty bar is one rest."""
    assert shown(written_bar(bar(), [(0, 0, Q)])) == "quarter r:quarter r:half"
    assert shown(written_bar(bar(), [(0, 2 * Q, 4 * Q)])) == "r:half half"
    assert [piece.ticks for piece in written_bar(bar("3/4"), [])] == [3 * Q]


def test_eighths_are_beamed_by_half_bars_and_mixed_values_by_beats() -> None:
    """Four eighths share a beam; an eighth and two sixteenths have two beams at their end."""
    half = Q // 2
    eighths = written_bar(bar(), [(i, i * half, (i + 1) * half) for i in range(8)])
    words = [piece.beams[0] for piece in eighths]
    assert words == ["begin", "continue", "continue", "end"] * 2
    mixed = written_bar(bar(), [(0, 0, half), (1, half, half + Q // 4), (2, half + Q // 4, Q), (3, Q, 4 * Q)])
    assert [piece.beams for piece in mixed[:3]] == [("begin",), ("continue", "begin"), ("end", "end")]


@settings(max_examples=200, deadline=None)
@given(
    st.sampled_from(["4/4", "3/4", "6/8", "5/4", "2/2", "12/8", "7/8"]),
    st.lists(st.integers(0, 480), min_size=2, max_size=12, unique=True),
)
def test_pieces_fill_the_bar_and_last_what_they_say(meter: str, cuts: list[int]) -> None:
    """Law: signs follow each other without gap or overlap, and each value lasts exactly its ticks."""
    whole = bar(meter)
    edges = sorted({min(cut * Q // 12 // 2, whole.length_ticks) for cut in cuts})
    spans = [(i, a, b) for i, (a, b) in enumerate(zip(edges[::2], edges[1::2], strict=False)) if b > a]
    pieces = written_bar(whole, spans)
    at = 0
    for piece in pieces:
        assert piece.offset_ticks == at
        at += piece.ticks
        if piece.kind and spans:
            value = VALUE_TICKS[piece.kind] * (3 if piece.dots else 2) // 2
            ratio = (piece.tuplet.normal, piece.tuplet.actual) if piece.tuplet else (1, 1)
            assert value * ratio[0] == piece.ticks * ratio[1]
    assert at == whole.length_ticks
    for index, start, end in spans:
        own = [piece for piece in pieces if piece.source == index]
        assert (own[0].offset_ticks, sum(piece.ticks for piece in own)) == (start, end - start)
