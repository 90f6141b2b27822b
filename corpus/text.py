"""Texts from outside, made fit for a terminal, a table and a page."""

import unicodedata
from typing import Final

LONGEST_TEXT: Final = 200
_LEFT_OUT: Final = ("Cc", "Cf", "Cs", "Co", "Cn")
"""Unicode's categories of control and format characters (changes of direction among them), surrogates, and the like."""


def clean_text(text: str) -> str:
    """A text without control or direction-changing characters, with single spaces, at most 200 characters long."""
    # Enough is looked at to fill the 200, however much of a hostile text is left out.
    cut = text[: 8 * LONGEST_TEXT]
    if not cut.isascii() or not cut.isprintable():
        cut = "".join(
            " " if character.isspace() else character
            for character in cut
            if character.isspace() or unicodedata.category(character) not in _LEFT_OUT
        )
    return " ".join(cut.split())[:LONGEST_TEXT].rstrip()
