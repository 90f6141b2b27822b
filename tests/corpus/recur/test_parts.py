"""Repeats found part by part are those of the whole text, in the same order, whoever finds them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from corpus.recur.corpus_text import BREAK, CorpusText
from corpus.recur.parts import Part, RepeatsInParts, parts_of, repeats_in
from corpus.recur.repeats import Repeats, maximal_repeats


def symbols_of(text: str) -> np.ndarray:
    """Letters as numbers from 1; a bar breaks the text."""
    return np.array([BREAK if letter == "|" else ord(letter) - ord("a") + 1 for letter in text], dtype=np.uint8)


def told(found: Repeats) -> list[tuple[int, list[int]]]:
    """Length and places of every repeat, in their order."""
    return [(int(found.lengths[number]), found.places(number).tolist()) for number in range(len(found))]


def dealt_here(symbols: np.ndarray, parts: list[Part]) -> list[Repeats]:
    """One part after the other, in this process."""
    return [repeats_in(symbols, part) for part in parts]


@given(st.text(alphabet="abcd|", max_size=120), st.integers(2, 4), st.integers(4, 20), st.integers(1, 12))
def test_parts_make_the_whole(text: str, least: int, longest: int, size: int) -> None:
    """Every repeat at the same place in the order, whatever the size of the parts."""
    symbols = symbols_of(text)
    unbroken = CorpusText("interval", symbols).unbroken
    whole = maximal_repeats(symbols, unbroken, least, longest)
    in_parts = RepeatsInParts(dealt_here, size)(symbols, unbroken, least, longest)  # type: ignore[arg-type]
    assert told(in_parts) == told(whole)


def test_parts_hold_every_pair_of_symbols_once() -> None:
    """Bounds follow each other from the first code to the last, and no part is much larger than wished."""
    symbols = symbols_of("abcabdacbabcdabc" * 20)
    parts = parts_of(symbols, 2, 8, size=40)
    assert [part.low for part in parts[1:]] == [part.high for part in parts[:-1]]
    assert (parts[0].low, parts[-1].high) == (0, 256 * 256)
    assert len(parts) > 3
    assert parts_of(symbols_of("|||"), 2, 8) == []


def test_repeats_of_one_symbol_cannot_be_dealt_out() -> None:
    """Nothing is lost silently."""
    with pytest.raises(ValueError, match="1 symbols"):
        parts_of(symbols_of("aba"), 1, 8)
