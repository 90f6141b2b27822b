"""Chord symbols as written, as MusicXML ``<harmony>``: nothing is lost, not even a spelling of the user's own."""

import re
from xml.etree.ElementTree import Element, SubElement

from corpus.harmony.symbol_musicxml import symbol_to_harmony
from corpus.harmony.symbols import ChordSymbol, read_symbol
from corpus.pitch import SpelledPitch
from corpus.read.musicxml_chords import chord_texts
from corpus.transposition import Transposition

_ROOT = re.compile(r"([A-G])([b#]*)(.*)", re.DOTALL)


def harmony_of(text: str, to_page: Transposition, *, for_print: bool) -> Element | None:
    """A ``<harmony>`` element for a chord symbol's text at sounding pitch; ``to_page`` leads to written pitch.

    What the user wrote stays as ``kind@text``. ``for_print`` gives what an engraver should show and no more: the text
    with ♭ and ♯, without degrees. A text that is no chord symbol is written as a ``<function>``; None when empty.
    """
    symbol = read_symbol(text)
    if symbol is None:
        return _foreign(text, to_page) if text.strip() else None
    element = symbol_to_harmony(_moved(symbol, to_page))
    kind = element.find("kind")
    assert kind is not None
    if symbol.root is not None:
        own = _own_suffix(text, symbol)
        if own is not None and chord_texts(_with_text(element, own), lambda a, b: (a, b)):
            _set_text(kind, own)
    if for_print:
        for degree in element.findall("degree"):
            element.remove(degree)
        _set_text(kind, printed(kind.get("text", "")))
    return element


def printed(text: str) -> str:
    """A symbol's text as the page shows it: ♭ and ♯ for ``b`` and ``#`` before a number or after a letter name."""
    text = re.sub(r"(?<![A-Za-z])b(?=\d)|(?<=[A-G])b|b(?=\d)", "♭", text)
    return text.replace("#", "♯")


def _own_suffix(text: str, symbol: ChordSymbol) -> str | None:
    """What follows the root in the user's spelling, without the bass; None where it cannot be told."""
    match = _ROOT.fullmatch(text.strip())
    if match is None:
        return None
    suffix = match[3]
    if symbol.bass is not None:
        suffix, slash, _ = suffix.rpartition("/")
        if not slash:
            return None
    again = read_symbol(match[1] + match[2] + suffix)
    return suffix if again is not None and again.tones == symbol.tones and again.root == symbol.root else None


def _with_text(element: Element, text: str) -> Element:
    copy = Element("harmony")
    copy.extend(child for child in element if child.tag != "kind")
    SubElement(copy, "kind", {"text": text}).text = "major"
    return copy


def _set_text(kind: Element, text: str) -> None:
    if text:
        kind.set("text", text)
    elif "text" in kind.attrib:
        del kind.attrib["text"]


def _foreign(text: str, to_page: Transposition) -> Element:
    """A text that our chord reader does not know: its root where it has one, the rest as it stands."""
    element = Element("harmony")
    match = _ROOT.fullmatch(text.strip())
    if match is None:
        SubElement(element, "function").text = text
        SubElement(element, "kind").text = "other"
        return element
    letter, alteration = to_page.sounding_name(match[1], match[2].count("#") - match[2].count("b"))
    root = SubElement(element, "root")
    SubElement(root, "root-step").text = letter
    if alteration:
        SubElement(root, "root-alter").text = str(alteration)
    SubElement(element, "kind", {"text": match[3]} if match[3] else {}).text = "other"
    return element


def _moved(symbol: ChordSymbol, to_page: Transposition) -> ChordSymbol:
    from dataclasses import replace

    if to_page.steps % 7 == 0 and to_page.semitones % 12 == 0:
        return symbol

    def moved(note: SpelledPitch | None) -> SpelledPitch | None:
        if note is None:
            return None
        pitch = to_page.sounding(note.letter, note.alteration, 4)
        return SpelledPitch(pitch.letter, pitch.alteration, None)

    root = moved(symbol.root)
    suffix = symbol.canonical.removeprefix(str(symbol.root or ""))
    bass = moved(symbol.bass)
    if symbol.bass is not None:
        suffix = suffix.removesuffix(f"/{symbol.bass}") + f"/{bass}"
    return replace(symbol, root=root, bass=bass, canonical=f"{root or ''}{suffix}")
