"""Chord symbols to and from MusicXML 4.0 ``<harmony>`` elements, without loss.

What a reader that knows nothing of us gets from ``kind`` and ``degree`` is the symbol's exact tones: the kind that
needs the fewest degrees is taken, degrees mean what ``musicxml.xsd`` says (``alter`` and ``subtract`` are relative to
the degree in the kind, ``add`` is relative to a dominant chord). ``kind@text`` holds the canonical suffix, which the
degrees repeat, so they are marked ``print-object="no"``.

Two spellings are avoided where another kind says the same, since readers differ: an added seventh without alteration
(minor by the standard, major for music21), and an added degree that the kind has in another form (a flat ninth beside
the natural one of ``dominant-ninth``, which music21 drops).
"""

from collections.abc import Iterator
from functools import lru_cache
from typing import Final
from xml.etree.ElementTree import Element, SubElement

from corpus.harmony.symbols import NO_CHORD, ChordSymbol, build_symbol, parse_symbol, read_symbol
from corpus.pitch import LETTERS, SpelledPitch
from corpus.read.musicxml_chords import chord_texts

__all__ = ["KIND_TONES", "harmony_to_symbol", "symbol_to_harmony"]

KIND_TONES: Final[dict[str, tuple[int, ...]]] = {
    "major": (0, 4, 7),
    "minor": (0, 3, 7),
    "augmented": (0, 4, 8),
    "diminished": (0, 3, 6),
    "dominant": (0, 4, 7, 10),
    "major-seventh": (0, 4, 7, 11),
    "minor-seventh": (0, 3, 7, 10),
    "diminished-seventh": (0, 3, 6, 9),
    "augmented-seventh": (0, 4, 8, 10),
    "half-diminished": (0, 3, 6, 10),
    "major-minor": (0, 3, 7, 11),
    "major-sixth": (0, 4, 7, 9),
    "minor-sixth": (0, 3, 7, 9),
    "dominant-ninth": (0, 2, 4, 7, 10),
    "major-ninth": (0, 2, 4, 7, 11),
    "minor-ninth": (0, 2, 3, 7, 10),
    "dominant-11th": (0, 2, 4, 5, 7, 10),
    "major-11th": (0, 2, 4, 5, 7, 11),
    "minor-11th": (0, 2, 3, 5, 7, 10),
    "dominant-13th": (0, 2, 4, 5, 7, 9, 10),
    "major-13th": (0, 2, 4, 5, 7, 9, 11),
    "minor-13th": (0, 2, 3, 5, 7, 9, 10),
    "suspended-second": (0, 2, 7),
    "suspended-fourth": (0, 5, 7),
    "power": (0, 7),
    "pedal": (0,),
}
"""Tones of each MusicXML 4.0 ``kind-value``, in semitones above the root, after the documentation in ``musicxml.xsd``.

Left out: ``none`` and ``other``, which have no tones of their own, and the functional kinds ``Neapolitan``,
``Italian``, ``French``, ``German`` and ``Tristan``, which name a function and leave the tones to the analyst.
"""

Degree = tuple[str, int, int]
"""``degree-type``, ``degree-value`` and ``degree-alter``."""

_ADDED: Final = {1: (9, -1), 2: (9, 0), 3: (9, 1), 4: (3, 0), 5: (11, 0), 6: (11, 1), 7: (5, 0), 8: (13, -1)} | {
    9: (13, 0),
    10: (7, 0),
    11: (7, 1),
}
_DEGREE_ABOVE_DOMINANT: Final = {1: 0, 2: 2, 3: 4, 4: 5, 5: 7, 6: 9, 7: 10, 8: 0, 9: 2, 10: 4, 11: 5, 12: 7, 13: 9}
_PAIRS: Final = ((7, 6), (7, 8), (2, 1), (2, 3), (5, 6), (9, 8))
"""Tones of a kind and what altering them by a semitone makes of them: fifths, ninths, elevenths, thirteenths."""

_MISREAD_PRICE: Final = 4


def symbol_to_harmony(symbol: ChordSymbol) -> Element:
    """A ``<harmony>`` element: root, kind with its printed text, bass, degrees. N.C. is kind ``none``."""
    harmony = Element("harmony")
    if symbol.root is None:
        root = SubElement(harmony, "root")
        SubElement(root, "root-step", {"text": ""}).text = "C"  # the standard asks for a root; empty text hides it
        SubElement(harmony, "kind", {"text": NO_CHORD}).text = "none"
        return harmony
    _add_note(harmony, "root", symbol.root)
    kind, degrees = _kind_and_degrees(symbol.tones)
    suffix = symbol.canonical.removeprefix(str(symbol.root))
    if symbol.bass is not None:
        suffix = suffix.removesuffix(f"/{symbol.bass}")
    # Without a text the reader chooses how to print a kind; a plain major triad is printed as its root alone.
    SubElement(harmony, "kind", {"text": suffix} if suffix else {}).text = kind
    if symbol.bass is not None:
        _add_note(harmony, "bass", symbol.bass)
    for what, value, alter in degrees:
        degree = SubElement(harmony, "degree", {"print-object": "no"})
        SubElement(degree, "degree-value").text = str(value)
        SubElement(degree, "degree-alter").text = str(alter)
        SubElement(degree, "degree-type").text = what
    return harmony


def harmony_to_symbol(harmony: Element) -> ChordSymbol | None:
    """The symbol of a ``<harmony>`` element at written pitch, or None for one that names no chord we know.

    What the page prints (``kind@text``, with printed degrees that it does not name) counts where it can be read, as in
    ``corpus.read.musicxml_chords``; else kind and degrees, as the standard defines them.
    """
    kind = harmony.find("kind")
    value = _text(kind)
    if value == "none":
        return parse_symbol(NO_CHORD)
    if kind is not None and (kind.get("text") or "").strip():
        texts = chord_texts(harmony, lambda step, alteration: (step, alteration))
        symbol = read_symbol(texts[0]) if len(texts) == 1 else None
        if symbol is not None:
            return symbol
    root = _note(harmony, "root")
    degrees = tuple(_degrees(harmony))
    if root is None or (value not in KIND_TONES and not (value == "other" and degrees)):
        return None
    return build_symbol(root, _apply(KIND_TONES.get(value, (0,)), degrees), _note(harmony, "bass"))


def _add_note(harmony: Element, name: str, note: SpelledPitch) -> None:
    element = SubElement(harmony, name)
    SubElement(element, f"{name}-step").text = LETTERS[note.letter]
    if note.alteration:
        SubElement(element, f"{name}-alter").text = str(note.alteration)


def _text(element: Element | None) -> str:
    return (element.text or "").strip() if element is not None else ""


def _integer(element: Element | None) -> int | None:
    text = _text(element)
    digits = text.removeprefix("-").removesuffix(".0")
    return int(text.removesuffix(".0")) if digits.isdecimal() and len(digits) <= 2 else None


def _note(harmony: Element, name: str) -> SpelledPitch | None:
    element = harmony.find(name)
    step = _text(element.find(f"{name}-step")).upper() if element is not None else ""
    if element is None or len(step) != 1 or step not in LETTERS:
        return None
    alteration = _integer(element.find(f"{name}-alter")) or 0
    return SpelledPitch(LETTERS.index(step), max(-2, min(2, alteration)), None)


def _degrees(harmony: Element) -> Iterator[Degree]:
    for element in harmony.iter("degree"):
        value = _integer(element.find("degree-value"))
        if value in _DEGREE_ABOVE_DOMINANT:
            yield _text(element.find("degree-type")), value, _integer(element.find("degree-alter")) or 0


def _apply(tones: tuple[int, ...], degrees: tuple[Degree, ...]) -> frozenset[int]:
    """The tones of a kind after its degrees. A degree that the kind lacks can't be altered or subtracted.

    An ``alter`` of a degree that is not there is taken as an ``add``, since many programs write it so.
    """
    found = set(tones)
    for what, value, alter in degrees:
        present = _degree_in(tones, value)
        if what == "add" or (what == "alter" and present is None):
            found.add((_DEGREE_ABOVE_DOMINANT[value] + alter) % 12)
        elif present is not None:
            found.discard(present)
            if what == "alter":
                found.add((present + alter) % 12)
    return frozenset(found | {0})


def _degree_in(tones: tuple[int, ...], value: int) -> int | None:
    """The tone of a kind that is its third, fifth, seventh …, or None."""
    is_diminished = 9 in tones and 6 in tones
    candidates: dict[int, tuple[int, ...]] = {
        2: (2,),
        9: (2,),
        3: (4, 3),
        4: (5,),
        11: (5,),
        5: (7, 6, 8),
        6: () if is_diminished else (9,),
        13: () if is_diminished else (9,),
        7: (9,) if is_diminished else (10, 11),
    }
    return next((tone for tone in candidates.get(value, ()) if tone in tones), None)


@lru_cache(maxsize=4096)
def _kind_and_degrees(tones: tuple[int, ...]) -> tuple[str, tuple[Degree, ...]]:
    """The kind that needs the fewest degrees for these tones, and the degrees."""
    best_price, best_kind = 99, "pedal"
    best: tuple[Degree, ...] = ()
    for kind, kind_tones in KIND_TONES.items():
        if 4 in tones and 3 in kind_tones:
            continue  # a minor third beside a major one is a sharp ninth
        degrees = tuple(_difference(kind_tones, tones))
        price = sum(_price(kind_tones, degree) for degree in degrees)
        if price < best_price and _apply(kind_tones, degrees) == frozenset(tones):
            best_price, best_kind, best = price, kind, degrees
    return best_kind, best


def _price(kind_tones: tuple[int, ...], degree: Degree) -> int:
    what, value, _ = degree
    misread = degree == ("add", 7, 0) or (value != 7 and _degree_in(kind_tones, value) is not None)
    return _MISREAD_PRICE if what == "add" and misread else 1


def _difference(kind_tones: tuple[int, ...], tones: tuple[int, ...]) -> Iterator[Degree]:
    missing = [tone for tone in kind_tones if tone not in tones]
    extra = [tone for tone in tones if tone not in kind_tones]
    for old, new in _PAIRS:
        if old in missing and new in extra:
            missing.remove(old)
            extra.remove(new)
            yield "alter", _number_in(kind_tones, old), new - old
    for tone in missing:
        yield "subtract", _number_in(kind_tones, tone), 0
    for tone in extra:
        value, alter = _ADDED[tone]
        if tone == 5 and not {3, 4} & set(tones):
            value = 4  # a suspension
        yield "add", value, alter


def _number_in(kind_tones: tuple[int, ...], tone: int) -> int:
    """The number of the degree that a tone is in a kind."""
    if tone == 9:
        return 7 if 6 in kind_tones else 13 if 10 in kind_tones or 11 in kind_tones else 6
    if tone == 2:
        return 9 if {3, 4} & set(kind_tones) else 2
    if tone == 5:
        return 11 if {3, 4} & set(kind_tones) else 4
    return {3: 3, 4: 3, 6: 5, 7: 5, 8: 5, 10: 7, 11: 7}[tone]
