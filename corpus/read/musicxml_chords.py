"""The text of a chord symbol from a MusicXML ``<harmony>`` element.

The text is free lead-sheet spelling (``Bb7``, ``Cm7b5``, ``F/A``, ``N.C.``), written for our own chord reader: what
the page prints (``kind@text``) where the file says so, else the standard suffix of the kind. Roots and basses are
transposed to sounding pitch.

Losses: inversions, the order of printed parts, brackets around degrees that the file only asks for by layout
attributes, fretboard frames.
"""

from collections.abc import Callable
from typing import Final
from xml.etree.ElementTree import Element

KIND_SUFFIXES: Final = {
    "major": "",
    "minor": "m",
    "augmented": "+",
    "diminished": "dim",
    "dominant": "7",
    "major-seventh": "maj7",
    "minor-seventh": "m7",
    "diminished-seventh": "dim7",
    "augmented-seventh": "+7",
    "half-diminished": "m7b5",
    "major-minor": "m(maj7)",
    "major-sixth": "6",
    "minor-sixth": "m6",
    "dominant-ninth": "9",
    "major-ninth": "maj9",
    "minor-ninth": "m9",
    "dominant-11th": "11",
    "major-11th": "maj11",
    "minor-11th": "m11",
    "dominant-13th": "13",
    "major-13th": "maj13",
    "minor-13th": "m13",
    "suspended-second": "sus2",
    "suspended-fourth": "sus4",
    "power": "5",
    "pedal": "ped",
    "Neapolitan": "N6",
    "Italian": "It+6",
    "French": "Fr+6",
    "German": "Ger+6",
    "Tristan": "Tristan",
    "other": "",
}
"""Lead-sheet suffix of every value of MusicXML 4.0's ``kind``; ``none`` is no chord at all."""

NO_CHORD: Final = "N.C."

_NUMERALS: Final = ("I", "II", "III", "IV", "V", "VI", "VII")
_FOLDED_SIGNS: Final = str.maketrans({"♭": "b", "♯": "#", "(": None, ")": None, " ": None, ",": None})

Transpose = Callable[[str, int], tuple[str, int]]
"""From a written letter and its alteration in semitones to the sounding ones."""


def chord_texts(harmony: Element, transpose: Transpose) -> list[str]:
    """The chord symbols of one ``<harmony>`` in order: nearly always one; empty for an element that names no chord.

    Functions stacked in one element (``V`` of ``II``) are one text, ``V/II``.
    """
    groups: list[list[Element]] = []
    for child in harmony:
        if child.tag in ("root", "function", "numeral"):
            groups.append([])
        if child.tag in ("root", "function", "numeral", "kind", "bass", "degree"):
            if not groups:  # a kind without any root: only N.C. makes sense of it
                groups.append([])
            groups[-1].append(child)
    texts = [text for group in groups if (text := _one_chord(group, transpose))]
    if len(texts) > 1 and all(group[0].tag != "root" for group in groups):
        return ["/".join(texts)]
    return texts


def _one_chord(group: list[Element], transpose: Transpose) -> str:
    parts = {child.tag: child for child in reversed(group)}
    kind = parts.get("kind")
    kind_value = _text(kind)
    if kind_value == "none":
        return NO_CHORD
    root = _root(parts, transpose)
    if root is None:
        return ""
    suffix = _suffix(kind, kind_value, root)
    if suffix.translate(_FOLDED_SIGNS).lower().rstrip(".") in ("n.c", "nc", "nochord"):
        return NO_CHORD
    text = root + suffix + _degrees(group, suffix, has_kind_text=bool(kind is not None and kind.get("text")))
    bass = parts.get("bass")
    if bass is not None:
        name = _note_name(bass, "bass", transpose)
        if name:
            text += f"/{name}"
    return text


def _text(element: Element | None) -> str:
    return (element.text or "").strip() if element is not None else ""


def _root(parts: dict[str, Element], transpose: Transpose) -> str | None:
    if "root" in parts:
        return _note_name(parts["root"], "root", transpose)
    if "function" in parts:
        return _text(parts["function"]) or None
    if "numeral" in parts:
        numeral = parts["numeral"].find("numeral-root")
        number = _text(numeral)
        printed = (numeral.get("text") or "").strip() if numeral is not None else ""
        if printed:
            return printed
        if number in ("1", "2", "3", "4", "5", "6", "7"):
            return _accidentals(_integer(parts["numeral"].find("numeral-alter"))) + _NUMERALS[int(number) - 1]
    return None


def _note_name(element: Element, prefix: str, transpose: Transpose) -> str | None:
    step = _text(element.find(f"{prefix}-step")).upper()
    if len(step) != 1 or step not in "ABCDEFG":
        return None
    letter, alteration = transpose(step, _integer(element.find(f"{prefix}-alter")))
    return letter + _accidentals(alteration)


def _accidentals(alteration: int) -> str:
    return "#" * alteration if alteration > 0 else "b" * -alteration


def _integer(element: Element | None) -> int:
    try:
        return max(-3, min(3, round(float(_text(element) or "0"))))
    except (ValueError, OverflowError):  # an alteration that is no number alters nothing
        return 0


def _suffix(kind: Element | None, kind_value: str, root: str) -> str:
    printed = (kind.get("text") or "").strip() if kind is not None else ""
    if printed:
        return printed
    suffix = KIND_SUFFIXES.get(kind_value, "")
    if root.islower() and suffix.startswith("m") and not suffix.startswith("maj"):
        return suffix[1:]  # a numeral in small letters (ii) says minor already
    return suffix


def _degrees(group: list[Element], suffix: str, *, has_kind_text: bool) -> str:
    """Added, altered and left-out degrees that the printed suffix does not name already.

    ``C`` with a flat ninth becomes ``C(b9)`` and ``Cm`` with an added one ``Cm(add9)``: without brackets they would
    read as C flat and as a major chord.
    """
    printed = suffix.translate(_FOLDED_SIGNS).lower() if has_kind_text else ""
    found: list[str] = []
    for degree in group:
        if degree.tag != "degree" or (has_kind_text and degree.get("print-object") == "no"):
            continue
        value = _text(degree.find("degree-value"))
        if not value.isdecimal() or len(value) > 2:
            continue
        text = _degree(_text(degree.find("degree-type")), value, _integer(degree.find("degree-alter")))
        if text and not (printed and _names(printed, text, value)):
            found.append(text)
    if not found:
        return ""
    plain = suffix[-1:].isdecimal() and not any(text.startswith(("add", "no")) for text in found)
    return "".join(found) if plain else f"({','.join(found)})"


def _degree(kind: str, value: str, alteration: int) -> str:
    if kind == "subtract":
        return f"no{value}"
    if alteration:
        return _accidentals(alteration) + value
    return "" if kind == "alter" else f"add{value}"


def _names(printed: str, text: str, value: str) -> bool:
    """Whether the printed suffix says the degree in one of the spellings in use."""
    if text.startswith("no"):
        return text in printed or f"omit{value}" in printed or (value == "3" and "sus" in printed)
    if text.startswith("add"):
        return value in printed or (value == "4" and "sus" in printed)
    minus_or_plus = text.replace("b", "-").replace("#", "+")
    return text in printed or minus_or_plus in printed or "alt" in printed
