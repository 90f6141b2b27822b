"""Chord symbols: free lead-sheet spelling to root, bass, family, exact tones, tensions and one canonical spelling.

A symbol is a root (capital letter, at most two accidentals), a suffix and perhaps a bass after a slash::

    C   Bb6   F♯-7   G7(b9,#11)   AbΔ7   Eø   D7alt   A7sus4b9   C6/9/E   Am(maj7)   N.C.

Unicode signs are taken for the letters they stand for, brackets and commas may stand anywhere, a symbol may be
bracketed as a whole. What the words of a suffix mean, and what is chosen where practice differs, is said in
``corpus.harmony.symbol_words``; families and tensions in ``corpus.harmony.symbol_quality``. Meanings are common
practice; sizes are stacked as in MusicXML's ``kind-value`` and Harte's syntax.

Refused, since they can be read in several ways or name no chord: roots in small letters, numerals, ``%``, one chord
over another (``C|D``), a bare ``4``, ``Ebb5`` (E flat with a flat fifth, or E double flat?), minor chords with ``+7``.
"""

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, NoReturn

from corpus.errors import QueryError
from corpus.harmony.symbol_quality import Family, describe
from corpus.harmony.symbol_words import SuffixReader, SymbolError, refuse
from corpus.pitch import LETTER_SEMITONES, LETTERS, SpelledPitch, parse_spelling

__all__ = [
    "LONGEST_TEXT",
    "NO_CHORD",
    "ChordSymbol",
    "Family",
    "SymbolError",
    "build_symbol",
    "is_alt",
    "parse_symbol",
    "read_symbol",
    "transpose_symbol",
]

NO_CHORD: Final = "N.C."
LONGEST_TEXT: Final = 64
"""Characters in the longest symbol that is looked at."""

# One character for one character, so that columns stay true.
_SIGNS: Final = str.maketrans(
    {"♭": "b", "♯": "#", "＃": "#", "\N{NO-BREAK SPACE}": " "}
    | dict.fromkeys("−–—‐‑", "-")
    | dict.fromkeys("△∆▵", "Δ")
    | dict.fromkeys("ØΦφ∅⌀", "ø")
    | dict.fromkeys("º˚", "°")
    | dict.fromkeys("[{", "(")
    | dict.fromkeys("]}", ")")
    | dict(zip("⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻⁽⁾", "0123456789+-()", strict=True))
)
_NOTE: Final = re.compile(r"([A-G])(bb|##|𝄫|𝄪|x|b|#)?")
_ALTERATIONS: Final = {None: 0, "b": -1, "#": 1, "bb": -2, "##": 2, "𝄫": -2, "𝄪": 2, "x": 2}
_AMBIGUOUS: Final = re.compile(r"(?:5|9|11|13)(?!\d)")
_NO_CHORD: Final = re.compile(r"\s*\(?\s*(?:n\.?\s?c\.?|no\s?chord)\s*\)?\s*", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class ChordSymbol:
    """A chord symbol understood.

    ``text`` is the symbol as written. ``root`` and ``bass`` have no octave; ``root`` is None for N.C., ``bass`` where
    it is the root's pitch class or not named. ``tones`` (chord tones) and ``tensions`` (available besides) are
    semitones above the root, ascending from 0, mod 12; ``()`` for N.C. ``canonical`` is the one spelling of the chord:
    ``Bb6``, ``Cm7b5``, ``F#dim7``, ``G7sus4``, ``Am(maj7)``, ``C6/9``, ``N.C.``.
    """

    text: str
    root: SpelledPitch | None
    family: Family
    tones: tuple[int, ...]
    tensions: tuple[int, ...]
    bass: SpelledPitch | None
    canonical: str

    @property
    def root_pitch_class(self) -> int | None:
        """Semitones of the root above C, or None for N.C."""
        return None if self.root is None else self.root.pitch_class

    @property
    def bass_pitch_class(self) -> int | None:
        """Semitones of the lowest note above C: the bass where one is named, else the root; None for N.C."""
        return self.root_pitch_class if self.bass is None else self.bass.pitch_class

    @property
    def pitch_classes(self) -> frozenset[int]:
        """All that sounds, in semitones above C: the tones and the bass. Empty for N.C."""
        if self.root is None:
            return frozenset()
        root = self.root.pitch_class
        found = {(root + tone) % 12 for tone in self.tones}
        if self.bass is not None:
            found.add(self.bass.pitch_class)
        return frozenset(found)


@lru_cache(maxsize=8192)
def parse_symbol(text: str) -> ChordSymbol:
    """Read a chord symbol.

    Raises QueryError (a ``SymbolError`` with ``column`` and ``why``) naming the text, the column (from 1) and what is
    not understood there.
    """
    if len(text) > LONGEST_TEXT:
        refuse(text[:20] + "…", LONGEST_TEXT, f"{len(text)} characters are too many: at most {LONGEST_TEXT} are read")
    if _NO_CHORD.fullmatch(text):
        return _no_chord(text)
    body = text.translate(_SIGNS)
    start, end = _outer(body)
    match = _NOTE.match(body, start, end)
    if match is None:
        _refuse_root(text, body, start, end)
    root = _spelled(match)
    position = match.end()
    double = (match[2] or "") in ("bb", "##")
    if double and _AMBIGUOUS.match(body, position, end):
        name = f"{body[start]}{body[start + 1]}"
        altered = body[start + 1] + (_AMBIGUOUS.match(body, position, end) or match)[0]
        refuse(text, position - 1, f"this can be read two ways: bracket the degree, {name}({altered})")
    end, bass = _split_bass(body, position, end)
    suffix = SuffixReader(text, body, position, end)
    return _symbol(text, root, suffix.bits, suffix.alt, bass)


def read_symbol(text: str) -> ChordSymbol | None:
    """The same, but None for a text that is no chord symbol."""
    try:
        return parse_symbol(text)
    except QueryError:
        return None


def build_symbol(
    root: SpelledPitch, tones: frozenset[int], bass: SpelledPitch | None = None, *, alt: bool = False
) -> ChordSymbol:
    """The symbol of a root and its tones (semitones above it, mod 12), written in its canonical spelling.

    ``alt`` asks for free alterations of fifth and ninth. Raises QueryError when the tones lack the root or leave 0 to
    11.
    """
    if 0 not in tones or not tones <= set(range(12)):
        raise QueryError(f"chord tones {sorted(tones)} must hold 0 and lie within 0 to 11")
    return _symbol(None, root, sum(1 << tone for tone in tones), alt, bass)


def _symbol(text: str | None, root: SpelledPitch, bits: int, alt: bool, bass: SpelledPitch | None) -> ChordSymbol:
    quality = describe(bits, alt=alt)
    suffix = quality.suffix
    if abs(root.alteration) == 2 and _AMBIGUOUS.match(suffix):
        # Ebb9 would be read as E flat with a flat ninth by many, so it is spelled out.
        suffix = f"(no3){suffix[1:]}" if suffix[0] == "5" else f"dom{suffix}"
    if bass is not None and bass.pitch_class == root.pitch_class:
        bass = None
    canonical = f"{root}{suffix}" if bass is None else f"{root}{suffix}/{bass}"
    return ChordSymbol(
        text=canonical if text is None else text,
        root=root,
        family=quality.family,
        tones=quality.tones,
        tensions=quality.tensions,
        bass=bass,
        canonical=canonical,
    )


def _no_chord(text: str) -> ChordSymbol:
    return ChordSymbol(text, None, Family.NONE, (), (), None, NO_CHORD)


def _outer(body: str) -> tuple[int, int]:
    """The stretch without white space around it and without brackets around the whole."""
    start, end = _stripped(body, 0, len(body))
    if end - start > 2 and body[start] == "(" and body[end - 1] == ")":
        return _stripped(body, start + 1, end - 1)
    return start, end


def _stripped(body: str, start: int, end: int) -> tuple[int, int]:
    while start < end and body[start].isspace():
        start += 1
    while start < end and body[end - 1].isspace():
        end -= 1
    return start, end


def _spelled(match: re.Match[str]) -> SpelledPitch:
    return SpelledPitch(LETTERS.index(match[1]), _ALTERATIONS[match[2]], None)


def _split_bass(body: str, start: int, end: int) -> tuple[int, SpelledPitch | None]:
    """The end of the suffix, and the bass after the last slash, if a note name is all that stands there."""
    slash = body.rfind("/", start, end)
    if slash < 0:
        return end, None
    match = _NOTE.fullmatch(body[slash + 1 : end].strip())
    return (end, None) if match is None else (slash, _spelled(match))


def _refuse_root(text: str, body: str, start: int, end: int) -> NoReturn:
    found = body[start:end]
    if not found:
        refuse(text, start, "nothing stands here: write a root (C, Bb, F#) and its quality, or N.C.")
    if found == "%":
        refuse(text, start, "% repeats a bar of a chart; it is no chord")
    if found[0] in "abcdefg":
        refuse(text, start, f"a root is a capital letter: {found[0].upper()}, or {found[0].upper()}m for minor")
    refuse(text, start, f"{found!r} does not begin with a root (a letter A to G), nor is it N.C.")


_COMMON_ROOTS: Final = tuple(map(parse_spelling, ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")))
_COMMON_MINOR_ROOTS: Final = tuple(
    map(parse_spelling, ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B"))
)
_MINOR_FAMILIES: Final = (Family.MINOR, Family.MINOR_MAJOR, Family.HALF_DIMINISHED, Family.DIMINISHED)


def transpose_symbol(symbol: ChordSymbol, semitones: int, steps: int | None = None) -> ChordSymbol:
    """The chord moved by ``semitones`` (any number, octaves don't matter), written in its canonical spelling.

    With ``steps`` (letter names, as in an interval: a minor third up is 3 semitones and 2 steps) root and bass are
    spelled by that interval, as transposing a whole chart into a key asks. Without, the root gets the spelling in
    common use for its family (Db7 but C#m7) and the bass keeps its interval from the root. A name that would need a
    double accidental is respelled; N.C. stays. A move by no semitones and no steps returns the symbol as it is.
    """
    if symbol.root is None or (semitones % 12 == 0 and (steps is None or steps % 7 == 0)):
        return symbol
    if steps is None:
        names = _COMMON_MINOR_ROOTS if symbol.family in _MINOR_FAMILIES else _COMMON_ROOTS
        root = names[(symbol.root.pitch_class + semitones) % 12]
    else:
        root = _moved(symbol.root, semitones, steps)
    bass = None if symbol.bass is None else _moved(symbol.bass, semitones, root.letter - symbol.root.letter)
    return build_symbol(root, frozenset(symbol.tones), bass, alt=is_alt(symbol))


def is_alt(symbol: ChordSymbol) -> bool:
    """Whether the symbol asks for free alterations (``7alt``)."""
    return "alt" in symbol.canonical


def _moved(note: SpelledPitch, semitones: int, steps: int) -> SpelledPitch:
    """A note moved by an interval; respelled with at most one accidental where the interval would need more."""
    target = (note.pitch_class + semitones) % 12
    letter = (note.letter + steps) % 7
    alteration = (target - LETTER_SEMITONES[letter] + 6) % 12 - 6
    return SpelledPitch(letter, alteration, None) if abs(alteration) <= 1 else _COMMON_ROOTS[target]
