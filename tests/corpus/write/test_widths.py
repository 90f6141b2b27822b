"""Texts broken into lines before a font is known."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from corpus.write import outlines
from corpus.write.widths import width_of, wrapped


@given(st.text("ab W…♭é ", max_size=80), st.floats(3, 30))
def test_lines_are_no_wider_than_asked_and_lose_nothing(text: str, width: float) -> None:
    """All signs but spaces come back in order, and none stands outside."""
    lines = wrapped(text, width, most=1_000)
    assert "".join("".join(lines).split()) == "".join(text.split())
    assert all(width_of(line) <= width for line in lines)
    shortened = wrapped(text, width, most=2)
    assert len(shortened) <= 2
    assert all(width_of(line) <= width for line in shortened)
    assert (len(lines) > 2) == (shortened != lines)


def test_words_are_kept_whole_where_they_fit() -> None:
    """By hand: three letters and a space are 3 times 0.66 and 0.4 wide."""
    assert wrapped("abc abc abc", 2 * 3 * 0.66 + 0.4) == ["abc abc", "abc"]


@pytest.mark.parametrize("text", ["[♭13]", "(♯11)", "Lamplighter's Round, bar 96", "MWQNHK mwkhd 0123456789"])
def test_no_text_is_wider_than_told(text: str) -> None:
    """Against the outlines in the system's font."""
    assert outlines._outline(text, outlines._Face(size=1000))[1] <= 1000 * width_of(text) + 1
