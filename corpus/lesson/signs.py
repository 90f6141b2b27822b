"""Chord symbols, numerals, degrees and notes with the accidentals of the page: ``Bb7b9`` as ``B♭7♭9``."""

import re
from typing import Final

_FLATS: Final = re.compile(r"(?<![A-Za-z])(?:[A-G]b+|b+(?=\d|[IViv]))|(?<=\d)b(?=\d)")
"""After the letter of a note; before a number or numeral; between the numbers of a chord."""


def with_signs(text: str) -> str:
    """The text with ♭ and ♯ where ``b`` and ``#`` stand for them; ``subV`` and other letters stay."""
    return _FLATS.sub(lambda match: match[0].replace("b", "♭"), text).replace("#", "♯")


def numeral_with_signs(text: str) -> str:
    """The same for a numeral, its ``o`` for a diminished chord a ring: ``#ivo7`` as ``♯iv°7``."""
    return re.sub(r"(?<=[iv])o", "°", with_signs(text))
