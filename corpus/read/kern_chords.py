"""Chord spines beside a ``**kern`` spine: which one holds the chords, and its tokens as lead-sheet symbols.

Read as chords, the first of these that the file has (of several alike, the one nearest to the right of the line):

============================  ==========================================================================
``**mxhm``                    root and the kind's name in MusicXML's words: ``B- dominant``, ``C major/E``
``**harte``                   root, colon, shorthand, degrees: ``Bb:min7``, ``F:7(b9)/3``
``**jazz``                    the same or lead-sheet symbols, with a duration before them: ``2B-:maj7``
``**chord``, ``**chords``     lead-sheet symbols: ``Bbmaj7``
any other kind                where four in five tokens can be read as chord symbols (lyrics and the like left out)
``**harm``                    Roman numerals in the key in force: ``V7``, ``iib``, ``viioD7``, ``V7/V``
============================  ==========================================================================

A ``-`` behind a root is a flat, as everywhere in Humdrum; in a spine where some root is written with ``b``, or in
which minor chords are written no other way, it says minor, as on lead sheets.

Sources: Humdrum's ``**harm`` (inversions ``b c d``, qualities before the seventh ``M m D``; from memory), Harte's
shorthands (C. Harte and others, *Symbolic representation of musical chords*, ISMIR 2005, table 1).
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Final

from corpus.harmony.symbols import read_symbol
from corpus.pitch import LETTER_SEMITONES, Key, SpelledPitch
from corpus.read.kern_numerals import numeral_chord
from corpus.read.musicxml_chords import KIND_SUFFIXES, NO_CHORD
from corpus.text import clean_text

NUMERAL_KIND: Final = "harm"
_SYMBOL_KINDS: Final = ("mxhm", "harte", "jazz", "chord", "chords", "chordsym")
_OTHER_TEXTS: Final = frozenset(
    {"kern", "recip", "dynam", "text", "silbe", "fing", "fb", "fba", "deg", "pitch", "midi", "time", "root", "function"}
)
_SHARE_OF_SYMBOLS: Final = 0.8
_NO_CHORDS: Final = frozenset({"n", "nc", "n.c.", "n.c", "r", "x", "none", "rest"})
_ROOT = re.compile(r"([A-Ga-g])(##?|--?|bb?(?![0-9])|[♯♭]|b(?=[0-9]))?")
_RHYTHM = re.compile(r"[\d%.]*(?=[A-GN(r])")
_SHORTHANDS: Final[Mapping[str, str]] = {
    "maj": "",
    "min": "m",
    "dim": "dim",
    "aug": "+",
    "maj7": "maj7",
    "min7": "m7",
    "7": "7",
    "dim7": "dim7",
    "hdim7": "m7b5",
    "hdim": "m7b5",
    "minmaj7": "m(maj7)",
    "maj6": "6",
    "6": "6",
    "min6": "m6",
    "9": "9",
    "maj9": "maj9",
    "min9": "m9",
    "11": "11",
    "maj11": "maj11",
    "min11": "m11",
    "13": "13",
    "maj13": "maj13",
    "min13": "m13",
    "sus": "sus4",
    "sus2": "sus2",
    "sus4": "sus4",
    "5": "5",
    "o": "dim",
    "o7": "dim7",
    "h": "m7b5",
    "h7": "m7b5",
    "^7": "maj7",
    "-7": "m7",
    "-": "m",
    "+": "+",
}


def chord_spine(kinds: Sequence[str], tokens: Mapping[int, Iterable[str]], line_spine: int) -> int | None:
    """The spine that holds the chords of the line at ``line_spine``, or None.

    ``kinds`` are the kinds of all spines without ``**``, ``tokens`` the texts that stand in each.
    """
    for wanted in (*_SYMBOL_KINDS, "", NUMERAL_KIND):
        if wanted:
            found = [spine for spine, kind in enumerate(kinds) if kind == wanted]
        else:
            found = [
                spine
                for spine, kind in enumerate(kinds)
                if kind not in _OTHER_TEXTS and kind != NUMERAL_KIND and _holds_symbols(tokens.get(spine, ()))
            ]
        if found:
            return min(found, key=lambda spine: (spine < line_spine, abs(spine - line_spine)))
    return None


def _holds_symbols(tokens: Iterable[str]) -> bool:
    texts = [token for token in tokens if token not in ("", ".")][:200]
    readable = sum(read_symbol(text) is not None for text in texts)
    return bool(texts) and readable >= _SHARE_OF_SYMBOLS * len(texts)


def minus_is_minor(kind: str, tokens: Iterable[str]) -> bool:
    """Whether a ``-`` behind a root says minor in this spine, as on lead sheets."""
    if kind in ("mxhm", "harte", "jazz", NUMERAL_KIND):
        return False
    return any(re.match(r"[\d%.]*[A-G](?:b|♭)", token) for token in tokens)


def chord_text(token: str, kind: str, key: Key | None, *, is_minus_minor: bool = False) -> str | None:
    """The lead-sheet symbol of a token, ``N.C.`` for no chord; None for a token that names no chord.

    ``key`` is the key in force, which numerals need.
    """
    text = clean_text(token)
    if not text or text == ".":
        return None
    if kind == NUMERAL_KIND:
        return numeral_chord(text, key)
    text = text[match.end() :] if (match := _RHYTHM.match(text)) else text
    if text.lower() in _NO_CHORDS:
        return NO_CHORD
    root = _ROOT.match(text)
    if root is None:
        return text
    sign = root[2] or ""
    if is_minus_minor and sign.startswith("-"):
        return text
    name = root[1].upper() + sign.replace("-", "b").replace("♯", "#").replace("♭", "b")
    rest = text[root.end() :]
    if rest.startswith(":"):
        return name + _harte_suffix(rest[1:], name)
    if kind == "mxhm" or rest.startswith(" "):
        return name + _kind_suffix(rest.strip())
    return name + _flat_bass(rest)


def _flat_bass(text: str) -> str:
    """The text with the bass behind a slash spelled with ``b`` instead of ``-``."""
    return re.sub(r"/([A-G])(--?)$", lambda match: f"/{match[1]}{match[2].replace('-', 'b')}", text)


def _kind_suffix(text: str) -> str:
    """``minor-seventh/E-`` as ``m7/Eb``; words that are no kind stay as they are."""
    kind, slash, bass = text.partition("/")
    suffix = KIND_SUFFIXES.get(kind.strip(), kind.strip())
    return _flat_bass(f"{suffix}{slash}{bass.strip()}")


def _harte_suffix(text: str, root: str) -> str:
    """What follows the colon: shorthand, degrees in brackets, bass as a degree over the root."""
    body, slash, bass = text.partition("/")
    shorthand, _, listed = body.partition("(")
    suffix = _SHORTHANDS.get(shorthand.strip(), shorthand.strip())
    degrees = [_harte_degree(one.strip()) for one in listed.rstrip(") ").split(",") if one.strip()]
    if degrees:
        suffix += f"({','.join(degrees)})"
    return suffix + (_bass_of_degree(bass.strip(), root) if slash else "")


def _harte_degree(text: str) -> str:
    if text.startswith("*"):
        return f"no{text[1:].lstrip('b#')}"
    return text if text[:1] in ("b", "#") else f"add{text}"


def _bass_of_degree(text: str, root: str) -> str:
    match = re.fullmatch(r"(b{0,2}|#{0,2})([1-9]|1[0-3])", text)
    if match is None:
        return _flat_bass(f"/{text}")
    number = (int(match[2]) - 1) % 7
    letter = ("CDEFGAB".index(root[0]) + number) % 7
    alteration = root.count("#") - root.count("b") + match[1].count("#") - match[1].count("b")
    semitones = LETTER_SEMITONES["CDEFGAB".index(root[0])] + LETTER_SEMITONES[number] + alteration
    signs = (semitones - LETTER_SEMITONES[letter] + 6) % 12 - 6
    return f"/{SpelledPitch(letter, signs, None)}"
