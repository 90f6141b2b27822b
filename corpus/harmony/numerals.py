"""Roman numerals: how they are spelled, read and compared.

Degrees count on the major scale of the tonic in both modes, as ``corpus.pitch.degree_name`` does: the relative major
of a minor key stands on ``bIII``. Every numeral can be typed in ASCII::

    numeral  = chord [ "/" target ]
    chord    = ["b" | "#"] roman [suffix]   |   "subV"
    roman    = I … VII (major third) | i … vii (minor third)
    target   = ["b" | "#"] roman

==========  ==========  ===================================================
suffix      roman       quality
==========  ==========  ===================================================
(none)      upper case  major; on V always the dominant, triad or seventh
(none)      lower case  minor, of any size (triad, 6, 7, major 7)
``7``       upper case  dominant seventh off the fifth degree: ``IV7``
``maj7``    upper case  only on V: a major seventh that cannot be a dominant
``7b5``     lower case  half-diminished: ``ii7b5``
``o``       lower case  diminished, triad or seventh: ``#io``, ``viio``
``+``       upper case  augmented
``sus``     upper case  suspended
``5``       upper case  without a third
==========  ==========  ===================================================

- ``V/ii`` is the dominant of ii; ``ii/IV`` and ``ii7b5/vi`` are the related ii of V/IV and V/vi.
- ``subV`` is the tritone substitute of V, the dominant seventh on b2; ``subV/ii`` that of V/ii. ``bII7`` is another
  spelling of ``subV``.
- ``bVII7`` after iv or IV is the backdoor, ``iv`` after IV the minor plagal move, ``#io`` and ``biiio`` passing
  diminished chords, ``bVI`` ``bIII`` ``bII`` modal mixture, ``I7`` and ``IV7`` the tonic and subdominant of a blues.

Sevenths that do not change the quality are not shown, but are understood when typed: ``V7``, ``ii7``, ``Imaj7``,
``I6``, ``#io7``, ``ii-7b5``, ``iim7b5``, ``iiø``, ``ii/o7``.
"""

import re
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache
from typing import Final

from corpus.errors import QueryError
from corpus.pitch import LETTER_SEMITONES


class Quality(StrEnum):
    """What a numeral says of its chord: nine classes."""

    MAJOR = "major"
    DOMINANT = "dominant"
    MINOR = "minor"
    HALF_DIMINISHED = "half-diminished"
    DIMINISHED = "diminished"
    AUGMENTED = "augmented"
    SUSPENDED = "suspended"
    POWER = "power"


_LOWER: Final = frozenset({Quality.MINOR, Quality.HALF_DIMINISHED, Quality.DIMINISHED})
_SUFFIXES: Final = {
    Quality.MAJOR: "",
    Quality.DOMINANT: "7",
    Quality.MINOR: "",
    Quality.HALF_DIMINISHED: "7b5",
    Quality.DIMINISHED: "o",
    Quality.AUGMENTED: "+",
    Quality.SUSPENDED: "sus",
    Quality.POWER: "5",
}
_ROMANS: Final = ("I", "II", "III", "IV", "V", "VI", "VII")


@dataclass(frozen=True, slots=True)
class Numeral:
    """A chord's function in a key.

    ``degree`` is 1 to 7 on the major scale of the tonic, or of the target where ``of`` is given; ``alteration`` is in
    semitones (-1 = flat). Two numerals are equal when they are the same function; the text is the canonical spelling.
    """

    degree: int
    alteration: int = 0
    quality: Quality = Quality.MAJOR
    of: "Numeral | None" = None

    @property
    def root_semitones(self) -> int:
        """Semitones of the chord's root above the tonic of the key, 0 to 11."""
        above = 0 if self.of is None else self.of.root_semitones
        return (above + LETTER_SEMITONES[self.degree - 1] + self.alteration) % 12

    @property
    def is_dominant(self) -> bool:
        """Whether the chord is a V, of the tonic or of another degree; substitutes and suspended ones included."""
        if self.degree == 5 and self.alteration == 0:
            return self.quality in (Quality.DOMINANT, Quality.SUSPENDED, Quality.AUGMENTED)
        return self.is_substitute

    @property
    def is_substitute(self) -> bool:
        """Whether the chord is a tritone substitute."""
        return (self.degree, self.alteration, self.quality) == (2, -1, Quality.DOMINANT)

    @property
    def is_ii(self) -> bool:
        """Whether the chord is a ii, of the tonic or of another degree."""
        return self.degree == 2 and self.alteration == 0 and self.quality in (Quality.MINOR, Quality.HALF_DIMINISHED)

    @property
    def is_tonic(self) -> bool:
        """Whether the chord is the I of its key (not a V/IV)."""
        return self.degree == 1 and self.alteration == 0 and self.of is None and self.quality != Quality.DIMINISHED

    def __str__(self) -> str:
        target = "" if self.of is None else f"/{_plain(self.of)}"
        if self.is_substitute:
            return f"subV{target}"
        suffix = _SUFFIXES[self.quality]
        if self.degree == 5 and self.alteration == 0:
            suffix = {Quality.DOMINANT: "", Quality.MAJOR: "maj7"}.get(self.quality, suffix)
        return f"{_plain(self)}{suffix}{target}"


def _plain(numeral: Numeral) -> str:
    roman = _ROMANS[numeral.degree - 1]
    sign = "#" * numeral.alteration if numeral.alteration > 0 else "b" * -numeral.alteration
    return sign + (roman.lower() if numeral.quality in _LOWER else roman)


_CHORD = re.compile(
    r"(?P<sub>sub(?=V))?(?P<sign>[b#♭♯]?)(?P<roman>VII|VI|IV|V|III|II|I|vii|vi|iv|v|iii|ii|i)(?P<suffix>.*?)"
    r"(?:/(?P<target>[b#♭♯]?[IViv]+))?"
)
_TYPED_LOWER: Final = (
    (re.compile(r"(-|m|min)?7b5|ø7?|h7?|/o7?|m7♭5"), Quality.HALF_DIMINISHED),
    (re.compile(r"(o|°|dim)7?"), Quality.DIMINISHED),
    (re.compile(r"(-|m|min)?(6|7|9|11|13|69)?|(-|m|min)?\(?(maj|M|ma)7\)?"), Quality.MINOR),
)
_TYPED_UPPER: Final = (
    (re.compile(r"|6|69|6/9|(maj|M|ma)(7|9|13)?"), Quality.MAJOR),
    (re.compile(r"(\+|aug)(maj7)?"), Quality.AUGMENTED),
    (re.compile(r"(7|9|13)?sus[24]?"), Quality.SUSPENDED),
    (re.compile(r"5"), Quality.POWER),
    (re.compile(r"(7|9|11|13|7alt|alt)(\(?[b#+]?(5|9|11|13)\)?)*|\+7|7\+"), Quality.DOMINANT),
)


@lru_cache(maxsize=1024)
def parse_numeral(text: str) -> Numeral:
    """Read a Roman numeral in the spelling of this module (``ii``, ``V7/ii``, ``subV``, ``ii7b5/vi``).

    Raises QueryError for anything else.
    """
    match = _CHORD.fullmatch(text.strip())
    if match is None:
        raise QueryError(f"unknown numeral {text!r}: write I to VII, as in ii, V7, V/ii, subV, ii7b5/vi, bVII7, #io")
    roman, suffix = match["roman"], match["suffix"]
    degree = _ROMANS.index(roman.upper()) + 1
    alteration = {"b": -1, "♭": -1, "#": 1, "♯": 1}.get(match["sign"], 0)
    table = _TYPED_LOWER if roman.islower() else _TYPED_UPPER
    quality = next((quality for form, quality in table if form.fullmatch(suffix)), None)
    if quality is None:
        case = "a minor third (lower case)" if roman.islower() else "a major third (upper case)"
        raise QueryError(f"numeral {text!r}: {suffix!r} does not go with {case}")
    if degree == 5 and alteration == 0 and quality is Quality.MAJOR and suffix in ("", "6"):
        quality = Quality.DOMINANT
    target = None
    if match["target"] is not None:
        target = parse_numeral(match["target"])
    if match["sub"]:
        if match["sign"] or degree != 5 or quality is not Quality.DOMINANT:
            raise QueryError(f"numeral {text!r}: only a V has a tritone substitute: write subV or subV/ii")
        degree, alteration = 2, -1
    return Numeral(degree, alteration, quality, target)


_UPPER_CLASSES: Final = frozenset(Quality) - _LOWER


@dataclass(frozen=True, slots=True)
class NumeralPattern:
    """A numeral as a question: which functions answer it.

    A numeral with a target, or ``subV``, asks for that function. Any other asks for what stands on its degree: ``VI``
    and ``VI7`` are answered by ``V/ii``, ``ii`` also by ``ii7b5``, ``I`` by every I with a major third; a suffix
    narrows it down. A suspended V answers ``V``.
    """

    text: str
    root_semitones: int
    qualities: frozenset[Quality]
    target_semitones: int | None = None

    def matches(self, numeral: Numeral | None) -> bool:
        """Whether a chord with this function answers; never for no chord."""
        if numeral is None or numeral.quality not in self.qualities:
            return False
        if self.target_semitones is not None and (
            numeral.of is None or numeral.of.root_semitones != self.target_semitones
        ):
            return False
        return numeral.root_semitones == self.root_semitones


@lru_cache(maxsize=1024)
def numeral_pattern(text: str) -> NumeralPattern:
    """Read one numeral of a search such as ``ii``, ``VI7``, ``V/ii``.

    Alternatives and wildcards belong to the search. Raises QueryError as ``parse_numeral`` does.
    """
    numeral = parse_numeral(text)
    typed = _CHORD.fullmatch(text.strip())
    is_bare = typed is not None and not typed["suffix"]
    qualities = frozenset({numeral.quality})
    if is_bare and numeral.quality in _UPPER_CLASSES and not numeral.is_substitute:
        qualities = _UPPER_CLASSES
    elif is_bare and numeral.quality is Quality.MINOR:
        qualities = frozenset({Quality.MINOR, Quality.HALF_DIMINISHED})
    target = None if numeral.of is None else numeral.of.root_semitones
    return NumeralPattern(text.strip(), numeral.root_semitones, qualities, target)
