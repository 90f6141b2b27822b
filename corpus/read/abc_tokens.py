"""The words of an ABC body, and what they can mean: token patterns, sign tables, and the marks that a cure leaves.

One master pattern takes a body apart, in the order in which its alternatives are listed: a field line before a note,
a bar line before a bracket, a bracket before a chord. No alternative backtracks over more than 400 characters.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

from corpus.model import Meter
from corpus.pitch import Key, SpelledPitch

Sign = Literal["da capo", "dal segno", "segno", "coda", "to coda", "fine"]


@dataclass(frozen=True, slots=True)
class ChordMark:
    """A chord symbol."""

    symbol: str


@dataclass(frozen=True, slots=True)
class NoteMark:
    """What belongs to the next note: grace notes before it (at written pitch), and whether it has an x head."""

    graces: tuple[SpelledPitch, ...] = ()
    is_dead: bool = False


@dataclass(frozen=True, slots=True)
class BarMark:
    """A bar line that is more than ``|``: colons before and after it, and the passes of a bracket that begins here.

    ``endings`` is None where no bracket begins; ``is_strong`` is True for double and final lines, which end a bracket;
    ``is_line`` is False for a bracket without a line (``[1``).
    """

    ends: int = 0
    starts: int = 0
    endings: tuple[int, ...] | None = None
    is_strong: bool = False
    is_line: bool = True


@dataclass(frozen=True, slots=True)
class KeyMark:
    """A key from here on, as written, and how far the sound lies above the writing, in semitones."""

    key: Key | None
    semitones: int


@dataclass(frozen=True, slots=True)
class MeterMark:
    """A meter from here on; None is free meter."""

    meter: Meter | None


@dataclass(frozen=True, slots=True)
class SectionMark:
    """A section that begins here."""

    label: str


@dataclass(frozen=True, slots=True)
class SignMark:
    """A sign that steers the order of play."""

    sign: Sign


@dataclass(frozen=True, slots=True)
class Remark:
    """Something left out or guessed here; equal texts are counted, the first ``example`` is shown."""

    text: str
    example: str = ""


Mark = ChordMark | NoteMark | BarMark | KeyMark | MeterMark | SectionMark | SignMark | Remark


LENGTH = r"(?P<{0}num>\d*)(?P<{0}slash>/*)(?P<{0}den>\d*)"
NOTE = re.compile(
    r"(?:(?P<acc>\^\^|\^|__|_|==|=)(?P<micro>\d*/\d*)?)?(?P<pitch>[A-Ga-gzxZX])(?P<octave>[,']*)" + LENGTH.format("")
)
TOKEN = re.compile(
    r"(?P<field>^[ \t]*(?:[H-Z]|[mrsw]|[A-G](?=:[ \t]*[^\s|:\[\d(])):(?![|:])[^\n]*|^\+:[^\n]*)"
    r"|(?P<note>(?:(?:\^\^|\^|__|_|==|=)(?:\d*/\d*)?)?[A-Ga-gzxZX][,']*\d*/*\d*)"
    r"|(?P<bar>(?:\[(?=\|))?[|:](?:[|:\]]|\[(?=\|))*(?:(?:[ \t]*\[[ \t]*(?=\d))?\d[\d,.\-]*)?)"
    r"|(?P<inline>\[[A-Za-z]:[^\]\n]*\])"
    r'|(?P<ending>\[[ \t]*(?:\d[\d,.\-]*|"[^"\n]{0,40}"(?![^\[\]|\n]*\])))'
    r'|(?P<chord>\[(?:[^\[\]|"]|"[^"\n]*"){1,400}\]\d*/*\d*)'
    r'|(?P<quote>"[^"\n]*")'
    r"|(?P<grace>\{[^{}\n]{0,400}\})"
    r"|(?P<tuplet>\(\d+(?::\d*){0,2})"
    r"|(?P<broken><+|>+)"
    r"|(?P<tie>-)"
    r"|(?P<deco>!(?:D\.[CS]\.[^!|\n]{0,30}|[^!|\s\[\]]{1,40})!|\+[^+|\s\[\]]{1,40}\+)"
    r"|(?P<comment>%[^\n]*)"
    r"|(?P<overlay>\(&|&\)|&+)"
    r"|(?P<unpaired>[\x01\"][^\s|\"]*)"
    r"|(?P<newline>\n)"
    r"|(?P<spacer>y\d*|[ \t]+|\((?![\d&])|[\s)`.!\\$*;?@#])"
    r"|(?P<symbol>[H-Wh-wY~])"
    r"|(?P<unknown>.)",
    re.MULTILINE,
)
CHORD_SYMBOL = re.compile(
    r"\(?(?:N\.? ?C\.?|NC|%|no chord|/?[A-G][#b♯♭]?(?:$|[^a-z]|maj|Maj|ma|mi|m(?![a-z])|min|madd|dim|aug|sus|add|alt"
    r"|dom|[oh](?![a-z])|b\d))",
)
# One word with a figure or an accidental in it is meant as a symbol, even where it cannot be read as one.
_ODD_SYMBOL = re.compile(r"(?=\S*[\d#♭♯°øΔ])[A-Za-z][^\s.,:;!?'\"]{0,15}")
DECORATION_SIGNS: Final[Mapping[str, Sign]] = {
    "d.c.": "da capo",
    "dacapo": "da capo",
    "d.s.": "dal segno",
    "dalsegno": "dal segno",
    "segno": "segno",
    "coda": "coda",
    "dacoda": "to coda",
    "tocoda": "to coda",
    "fine": "fine",
}
_WORDS: Final[tuple[tuple[str, Sign], ...]] = (
    (r"d\.? ?c\.?(?=$| )|da capo\b", "da capo"),
    (r"d\.? ?s\.?(?=$| )|dal segno\b", "dal segno"),
    (r"(?:al )?fine\.?$", "fine"),
    (r"to coda\b", "to coda"),
    (r"coda$", "coda"),
    (r"segno$", "segno"),
)
QUOTE_SIGNS: Final[tuple[tuple[re.Pattern[str], Sign], ...]] = tuple(
    (re.compile(pattern, re.IGNORECASE), sign) for pattern, sign in _WORDS
)
TUPLET_TIME: Final = {1: 1, 2: 3, 3: 2, 4: 3, 6: 2, 8: 3}
"""Notes in whose time so many notes of a tuplet sound; the rest depend on the meter."""


def passes_of(text: str) -> tuple[int, ...]:
    """The passes that a bracket names: ``1,3`` is 1 and 3, ``1-3`` is 1, 2 and 3. At most 32 of them."""
    found: list[int] = []
    for first, last in re.findall(r"(\d{1,3})(?:-(\d{1,3}))?", text[:80]):
        found += range(int(first), min(int(last or first), int(first) + 31) + 1)
    return tuple(dict.fromkeys(number for number in found if number))[:32]


def user_symbols(values: list[str]) -> dict[str, str]:
    """The decorations' names by letter that ``U:`` fields define (``U: n = !style=x!``)."""
    found: dict[str, str] = {}
    for value in values:
        match = re.match(r"\s*([H-Yh-w~])\s*=\s*[!+]([^!+]{1,40})[!+]", value)
        if match:
            found[match[1]] = match[2].strip()
    return found


def with_lone_quotes_marked(body: str) -> str:
    """A body in which the quotation mark without a partner, on lines with an odd number of them, became ``\\x01``.

    The lone one is the first whose text would run over a bar line, else the last.
    """
    if '"' not in body:
        return body
    lines = body.split("\n")
    for number, line in enumerate(lines):
        if line.count('"') % 2:
            pieces = line.split('"')
            lone = next((i for i in range(1, len(pieces) - 1, 2) if "|" in pieces[i]), len(pieces) - 1)
            lines[number] = '"'.join(pieces[:lone]) + "\x01" + '"'.join(pieces[lone:])
    return "\n".join(lines)


def is_symbol(text: str) -> bool:
    """Whether a text in quotes is meant as a chord symbol."""
    return CHORD_SYMBOL.match(text) is not None or _ODD_SYMBOL.fullmatch(text) is not None
