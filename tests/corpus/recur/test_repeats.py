"""Maximal repeats: textbook strings, and every repeat of generated strings tried one by one."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from corpus.recur.corpus_text import BREAK, CorpusText
from corpus.recur.repeats import maximal_repeats


def repeats_of(text: str, least: int = 1, longest: int = 64, fewest: int = 2) -> dict[str, list[int]]:
    """The maximal repeats of a text and their places; a bar breaks it."""
    symbols = np.array([BREAK if letter == "|" else ord(letter) - ord("a") + 1 for letter in text], dtype=np.uint8)
    found = maximal_repeats(symbols, CorpusText("interval", symbols).unbroken, least, longest, fewest)
    told = {}
    for number in range(len(found)):
        places = found.places(number).tolist()
        told[text[places[0] : places[0] + int(found.lengths[number])]] = places
    assert len(told) == len(found)
    return told


def tried_one_by_one(text: str, least: int = 1, longest: int = 64) -> dict[str, list[int]]:
    """The definition: repeats whose occurrences are not all followed, nor all preceded, by one symbol."""
    places: dict[str, list[int]] = {}
    for begin in range(len(text)):
        for end in range(begin + least, min(len(text), begin + longest) + 1):
            if "|" in text[begin:end]:
                break
            places.setdefault(text[begin:end], []).append(begin)
    told = {}
    for piece, begins in places.items():
        before = [text[begin - 1] if begin else "|" for begin in begins]
        after = [(text + "|")[begin + len(piece)] for begin in begins]
        if len(begins) > 1 and all("|" in beside or len(set(beside)) > 1 for beside in (before, after)):
            told[piece] = begins
    return told


def test_the_maximal_pairs_of_a_textbook_string_are_told() -> None:
    """Gusfield 1997, 7.12 (string recalled from memory): abc and abcy are maximal in it, bc is not."""
    found = repeats_of("xabcyiiizabcqabcyrxar", least=2)
    assert found["abc"] == [1, 9, 13]
    assert found["abcy"] == [1, 13]
    assert found["ii"] == [5, 6]
    assert found["xa"] == [0, 18]
    assert "bc" not in found
    assert set(found) == {"abc", "abcy", "ii", "xa"}


def test_banana_and_mississippi() -> None:
    """By hand: the standard examples of suffix arrays."""
    assert repeats_of("banana") == {"a": [1, 3, 5], "ana": [1, 3]}
    assert repeats_of("mississippi") == {
        "i": [1, 4, 7, 10],
        "s": [2, 3, 5, 6],
        "p": [8, 9],
        "issi": [1, 4],
    }


def test_nothing_crosses_a_break() -> None:
    """By hand: what stands at a break on one side only may be maximal, and no repeat holds one."""
    assert repeats_of("ab|ab|ab") == {"ab": [0, 3, 6]}
    assert repeats_of("abc|abd") == {"ab": [0, 4]}
    assert repeats_of("xab|ab") == {"ab": [1, 4]}


def test_short_texts_hold_no_repeats() -> None:
    """Nothing, one symbol, two different ones."""
    assert repeats_of("") == repeats_of("a") == repeats_of("ab") == {}


@given(st.text(alphabet="abc|", max_size=60), st.integers(1, 4))
def test_repeats_are_those_of_the_definition(text: str, least: int) -> None:
    """Every stretch tried one by one gives the same repeats, at the same places."""
    assert repeats_of(text, least) == tried_one_by_one(text, least)


def test_one_symbol_ten_thousand_times_is_quick_and_small() -> None:
    """By hand: each length stands once more often than the next, so each is maximal, up to the longest told."""
    found = repeats_of("a" * 10_000, least=3, longest=20)
    assert set(found) == {"a" * length for length in range(3, 21)}
    assert len(found["aaa"]) == 9_998
