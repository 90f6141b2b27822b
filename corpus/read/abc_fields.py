"""The values of ABC fields: keys, meters, note lengths, tempos, orders of parts, clefs.

Source: the ABC standard 2.1, sections 3.1 and 4.6. Judgements where the standard leaves room:

- ``K:GM`` is G minor: the standard ignores capitals in modes, and tune books rely on it. It is remarked on.
- ``Q:180`` counts quarter notes. (The standard's outdated form counts unit notes; players who write it mean quarters.)
- ``K:HP`` has no signature and no tonic; ``K:Hp`` has F sharp and C sharp and is A mixolydian.
- ``clef=treble-8`` and ``+8`` shift the sound an octave, as the standard says of players. A clef name alone and
  ``middle=`` do not change pitch.
"""

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from corpus.model import Meter
from corpus.pitch import LETTERS, Key, SpelledPitch, default_spelling, parse_spelling

MOST_PARTS: Final = 1000
_DEEPEST_PARTS: Final = 16
_MODES: Final = {
    "": "major",
    "maj": "major",
    "ion": "ionian",
    "m": "minor",
    "min": "minor",
    "aeo": "aeolian",
    "mix": "mixolydian",
    "dor": "dorian",
    "phr": "phrygian",
    "lyd": "lydian",
    "loc": "locrian",
}
_FLATTER: Final = {
    "major": 0,
    "ionian": 0,
    "lydian": -1,
    "mixolydian": 1,
    "dorian": 2,
    "minor": 3,
    "aeolian": 3,
    "phrygian": 4,
    "locrian": 5,
}
"""Fifths that a mode's signature lies on the flat side of the major signature on its tonic."""
_ORDER_OF_SHARPS: Final = "FCGDAEB"
ACCIDENTALS: Final = {"^^": 2, "^": 1, "=": 0, "==": 0, "_": -1, "__": -2}

_PROPERTY = re.compile(
    r"\b(clef|octave|transpose|t|middle|m|stafflines|staffscale|score|sound|shift|cue|map|style|gstem|stem|name|nm"
    r'|subname|snm|sname)[ \t]*=[ \t]*("[^"]*"|[^\s"]+)',
    re.IGNORECASE,
)
_CLEF = re.compile(
    r"\b(treble|alto|tenor|bass|baritone|mezzosoprano|mezzo|soprano|percussion|perc|auto)[1-5]?([+-](?:8|15))?(?!\w)",
    re.IGNORECASE,
)
_EXPLICIT = re.compile(r"(\^\^|\^|__|_|=)([A-Ga-g])")
_TONIC = re.compile(r"([A-Ga-g])([#b♯♭]?)[ \t]*-?[ \t]*([A-Za-z]*)")
_GERMAN: Final = {"H": "B", "Es": "Eb", "As": "Ab"}


@dataclass(frozen=True, slots=True)
class Signature:
    """What ``K:`` says: a key (None where none is named) and the alteration of each letter of ``LETTERS``."""

    key: Key | None = None
    alterations: tuple[int, ...] = (0,) * 7


NO_SIGNATURE: Final = Signature()


def signature_of(key: Key) -> tuple[int, ...]:
    """The alterations, in semitones by letter C to B, that a key's signature asks for."""
    tonic = key.tonic_spelling
    fifths = _ORDER_OF_SHARPS.index(LETTERS[tonic.letter]) - 1 + 7 * tonic.alteration - _FLATTER[key.mode]
    return tuple((fifths - _ORDER_OF_SHARPS.index(letter) + 6) // 7 for letter in LETTERS)


def properties(text: str) -> dict[str, str]:
    """The ``name=value`` properties of a ``K:`` or ``V:`` field, names in lower case; a bare clef is ``clef``."""
    found = {match[1].lower(): match[2].strip('"') for match in _PROPERTY.finditer(text)}
    bare = _CLEF.search(_PROPERTY.sub(" ", text))
    if bare and "clef" not in found:
        found["clef"] = bare[0]
    return found


def semitones_of(found: dict[str, str]) -> int:
    """How far properties shift the sound, in semitones: ``octave=``, ``transpose=`` and ``clef=treble-8``.

    Shifts beyond five octaves are ignored.
    """
    semitones = 0
    for name, unit in (("octave", 12), ("transpose", 1), ("t", 1)):
        value = found.get(name, "")
        if re.fullmatch(r"[+-]?\d{1,2}", value) and not (name == "t" and "transpose" in found):
            semitones += int(value) * unit
    octave = re.search(r"([+-])(8|15)$", found.get("clef", ""))
    if octave:
        semitones += (12 if octave[2] == "8" else 24) * (1 if octave[1] == "+" else -1)
    return semitones if abs(semitones) <= 60 else 0


def parse_key_field(text: str, before: Signature = NO_SIGNATURE) -> tuple[Signature, str]:
    """Read the value of ``K:``, clef and properties ignored.

    Returns the signature and a remark, empty when all was understood. A value that names no key (``clef=bass``) leaves
    the signature ``before`` in force.
    """
    bare = _CLEF.sub(" ", _PROPERTY.sub(" ", text)).strip()
    if not bare:
        return before if text.strip() else NO_SIGNATURE, ""
    if bare in ("HP", "Hp"):
        return (NO_SIGNATURE if bare == "HP" else Signature(Key("A", "mixolydian"), (1, 0, 0, 1, 0, 0, 0))), ""
    changes = {LETTERS.index(letter.upper()): ACCIDENTALS[sign] for sign, letter in _EXPLICIT.findall(bare)}
    words = _EXPLICIT.sub(" ", bare).strip()
    key, is_explicit, remark = _tonic_and_mode(words)
    alterations = list(NO_SIGNATURE.alterations if key is None or is_explicit else signature_of(key))
    for letter, alteration in changes.items():
        alterations[letter] = alteration
    return Signature(key, tuple(alterations)), remark


def _tonic_and_mode(words: str) -> tuple[Key | None, bool, str]:
    """The key of ``K:`` without its accidentals, whether these alone make the signature, and a remark."""
    if words.lower() in ("none", "exp", ""):
        return None, True, ""
    first = words.split()[0]
    remark = ""
    if first in _GERMAN:
        remark = f"the key {words!r} is read as German {_GERMAN[first]}"
        words = _GERMAN[first] + words[len(first) :]
    match = _TONIC.match(words)
    if match is None:
        return None, True, f"unknown key {words[:40]!r}: no key is read"
    sign = {"♯": "#", "♭": "b"}.get(match[2], match[2])
    tonic = match[1].upper() + sign
    word = match[3].lower()
    rest = words[match.end() :].lower()
    if word == "exp" or rest.strip().startswith("exp"):
        return Key(tonic, _MODES.get(word[:3], "major")), True, remark
    mode = _MODES.get(word if word == "m" else word[:3])
    if mode is None:
        mode = "minor" if match[3].startswith("m") else "major"
        remark = f"unknown mode {match[3]!r} in the key {words[:40]!r}: read as {tonic} {mode}"
    elif match[3] == "M":
        remark = f"the key {words[:40]!r} is read as {tonic} minor (ABC ignores capitals in modes): write {tonic}maj"
    return Key(tonic, mode), False, remark


def parse_meter_field(text: str) -> tuple[Meter | None, str]:
    """Read the value of ``M:``. Returns the meter, None for free meter, and a remark, empty when all was understood."""
    value = text.strip()
    if value in ("C", "c"):
        return Meter(4, 4), ""
    if value.upper() == "C|":
        return Meter(2, 2), ""
    if not value or value.lower() == "none":
        return None, ""
    match = re.search(r"([\d+() ]*\d[)\s]*)/\s*(\d{1,3})", value[:80])
    if match:
        upper = match[1] if "+" in match[1] else match[1].split()[-1]
        beats = sum(int(number) for number in re.findall(r"\d{1,4}", upper))
        unit = int(match[2])
        if 1 <= beats <= 64 and unit in (1, 2, 4, 8, 16, 32, 64):
            return Meter(beats, unit), ""
    return None, f"unknown meter {value[:40]!r}: read as free"


def parse_length_field(text: str) -> Fraction | None:
    """The unit note of ``L:`` in whole notes, or None when the value is none (or beyond 8 or 1/1024)."""
    match = re.match(r"\s*(\d{1,4})\s*(?:/\s*(\d{1,4}))?\s*$", text)
    if match is None or int(match[1]) == 0 or int(match[2] or 1) == 0:
        return None
    length = Fraction(int(match[1]), int(match[2] or 1))
    return length if Fraction(1, 1024) <= length <= 8 else None


def default_length(meter: Meter | None) -> Fraction:
    """The unit note without ``L:``: a sixteenth in meters below 3/4, else an eighth (section 3.1.7)."""
    if meter is not None and Fraction(meter.numerator, meter.denominator) < Fraction(3, 4):
        return Fraction(1, 16)
    return Fraction(1, 8)


def parse_tempo_field(text: str) -> float | None:
    """The tempo of ``Q:`` in quarter notes a minute, or None without a number or beyond 10 to 1000."""
    bare = re.sub(r'"[^"]*"?', " ", text[:200])
    match = re.search(r"=\s*[A-Za-z.~]*\s*(\d{1,4}(?:\.\d{1,3})?)", bare)
    quarters = Fraction(1)
    if match:
        beats = [(int(n), int(d)) for n, d in re.findall(r"(\d{1,3})\s*/\s*(\d{1,3})", bare[: match.start()])]
        if any(d == 0 for _, d in beats):
            return None
        quarters = sum((Fraction(4 * n, d) for n, d in beats), Fraction(0)) or Fraction(1)
    else:
        match = re.fullmatch(r"\s*(\d{1,4}(?:\.\d{1,3})?)\s*", bare)
    if match is None:
        return None
    tempo = float(Fraction(match[1]) * quarters)
    return tempo if 10 <= tempo <= 1000 else None


def parse_parts_field(text: str) -> tuple[str, ...] | None:
    """The order of parts in a header's ``P:``, written out: ``A2(BC)2`` is A A B C B C.

    None when the text is no order. Raises ValueError when it asks for more than 1000 parts or nests too deeply.
    """
    compact = re.sub(r"[\s.]", "", text)
    if not re.fullmatch(r"(?:[A-Z]\d*|\(|\)\d*)+", compact):
        return None
    stack: list[list[str]] = [[]]
    for opening, closing, label, times in re.findall(r"(\()|(?:(\))|([A-Z]))(\d*)", compact):
        if opening:
            stack.append([])
            if len(stack) > _DEEPEST_PARTS:
                raise ValueError(f"the order of parts nests deeper than {_DEEPEST_PARTS}")
            continue
        if closing and len(stack) == 1:
            return None
        group = stack.pop() if closing else [label]
        if len(times) > 4 or len(group) * int(times or 1) + len(stack[-1]) > MOST_PARTS:
            raise ValueError(f"the order of parts asks for more than {MOST_PARTS} parts")
        stack[-1] += group * int(times or 1)
    return tuple(stack[0]) if len(stack) == 1 else None


_STEPS: Final = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)
"""Letter names that the usual interval of so many semitones spans (six: an augmented fourth)."""


def transpose_spelling(spelled: SpelledPitch, semitones: int) -> SpelledPitch:
    """A spelled pitch moved by the usual interval of so many semitones; respelled when that needs three accidentals."""
    octaves, rest = divmod(abs(semitones), 12)
    steps = (7 * octaves + _STEPS[rest]) * (1 if semitones >= 0 else -1)
    octave_shift, letter = divmod(spelled.letter + steps, 7)
    octave = None if spelled.octave is None else spelled.octave + octave_shift
    natural = SpelledPitch(letter, 0, 0).pitch or 0
    wanted = (SpelledPitch(spelled.letter, spelled.alteration, 0).pitch or 0) + semitones
    alteration = wanted - natural - 12 * octave_shift
    if abs(alteration) > 2:
        respelled = parse_spelling(default_spelling(wanted))
        octave = None if spelled.octave is None else spelled.octave + (respelled.octave or 0)
        return SpelledPitch(respelled.letter, respelled.alteration, octave)
    return SpelledPitch(letter, alteration, octave)


def transpose_key(key: Key, semitones: int) -> Key:
    """A key moved by an interval; its tonic is respelled when it would need two accidentals."""
    if semitones % 12 == 0:
        return key
    tonic = transpose_spelling(key.tonic_spelling, semitones)
    if abs(tonic.alteration) > 1 or max(map(abs, signature_of(Key(str(tonic), key.mode)))) > 1:
        tonic = parse_spelling(default_spelling(tonic.pitch_class + 60).rstrip("0123456789"))
    return Key(str(tonic), key.mode)


_CHORD_ROOT = re.compile(r"^(\(?)([A-G])([#b♯♭]?)|(/)([A-G])([#b♯♭]?)")


def transpose_chord(symbol: str, semitones: int) -> str:
    """A chord symbol's text with its root and its bass moved by an interval."""
    if semitones % 12 == 0:
        return symbol

    def moved(match: re.Match[str]) -> str:
        before = match[1] if match[2] else match[4]
        name = (match[2] or match[5]) + (match[3] or match[6] or "")
        return before + transpose_key(Key(str(parse_spelling(name))), semitones).tonic

    return _CHORD_ROOT.sub(moved, symbol)
