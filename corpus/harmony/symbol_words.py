"""The words of a chord suffix, read from left to right into a set of tones.

The text has been normalised (``corpus.harmony.symbols``): flats are ``b``, sharps ``#``, minus signs ``-``. What the
words mean is common practice; where practice differs, the choice is stated:

- The first number outside brackets is the size of the chord: ``9``, ``11`` and ``13`` bring the seventh and every
  degree below, each stacked on the one before, as MusicXML's kinds and Harte's shorthands have it. ``13`` therefore
  holds 9 and 11. A later number, and any number in brackets, is one added note: ``C7(13)``, ``C(9)``.
- An altered 9, 11 or 13 replaces the natural one that a size implies (``13b9``), never one that is written out.
  ``b5`` and ``#5`` replace the fifth; ``#11`` and ``b13`` leave it.
- ``dim`` and ``°`` are triads, ``dim7`` has the diminished seventh. ``ø`` has its minor seventh with or without a 7.
  ``maj`` and ``M`` without a number are triads; ``Δ``, ``^`` and ``j`` have the major seventh.
- ``+`` before a number is an augmented fifth (``C+7``); after one, with 5, 9 or 11, it raises that degree (``C7+9``).
  ``-`` after the root is minor; after a number it lowers a degree (``C7-9``).
- ``alt`` is root, third and seventh; fifth and ninth are altered freely, so they are tensions.
- ``2`` is ``add9``. ``sus`` is ``sus4``; ``sus`` implies no seventh. ``ped`` is the bare root.
"""

import re
from typing import Final, NoReturn

from corpus.errors import QueryError

_TOKEN: Final = re.compile(
    r"""(?P<gap>[\s,♮]+)
    |(?P<open>\()
    |(?P<close>\))
    |(?P<add>add)
    |(?P<omit>(?:omit|no)\s*\.?\s*(?P<left>13|11|9|7|6|5|3)(?:rd|th)?)
    |(?P<sus>(?:sus|Sus|SUS)(?P<suspended>2/4|24|42|4/2|\s?[24])?)
    |(?P<alt>alt(?:ered|\.)?7?)
    |(?P<half>ø|half[-\ ]?dim(?:inished)?)
    |(?P<dim>dim(?:inished|\.)?|°|o)
    |(?P<aug>aug(?:mented|\.)?)
    |(?P<dom>dom(?:inant|\.)?)
    |(?P<delta>Δ|\^|j)
    |(?P<major>/?(?:[Mm]aj(?:or|\.)?|MAJ(?:OR)?|[Mm]a(?!dd)|MA|M(?![Ii])))
    |(?P<minor>[Mm]in(?:or|\.)?|MIN(?:OR)?|[Mm]i|MI|m)
    |(?P<ped>ped(?:al)?)
    |(?P<change>[b#](?P<changed>13|11|10|[2-79]))
    |(?P<plus>\+)
    |(?P<minus>-)
    |(?P<sixnine>69|6/9|9/6)
    |(?P<seventhmajor>7M(?![a-zA-Z]))
    |(?P<number>13|11|[2-79])(?!\d)
    """,
    re.VERBOSE,
)
_SIGNED: Final = re.compile(r"(13|11|9|6|5|4)(?!\d)")
_ADDED: Final = re.compile(r"\s*([b#+-]?)(13|11|10|[2-79])(?!\d)")

_NATURAL: Final = {"2": 2, "9": 2, "3": 4, "10": 4, "4": 5, "11": 5, "5": 7, "6": 9, "13": 9, "7": 10}
_CHANGED: Final = (
    {"b2": 1, "b9": 1, "#2": 3, "#9": 3, "b3": 3, "b10": 3}
    | {"#4": 6, "#11": 6, "b5": 6, "#5": 8, "b6": 8, "b13": 8}
    | {"b7": 10, "#7": 11}
)
_SIGNS: Final = {"+": "#", "-": "b"}
_EXPECTED: Final = (
    "a quality (m, maj7, dim, sus4, 7alt), a number (6, 7, 9, 11, 13), an altered degree (b9), add or no with a "
    "degree, or /bass"
)


class SymbolError(QueryError):
    """A text that is no chord symbol: ``column`` (from 1) is where reading stopped, ``why`` what is wrong there."""

    def __init__(self, text: str, column: int, why: str) -> None:
        self.column, self.why = column, why
        super().__init__(f"chord symbol {text!r}, column {column}: {why}")


def refuse(text: str, position: int, why: str) -> NoReturn:
    """Raise the SymbolError about a position, counted from 0."""
    raise SymbolError(text, position + 1, why)


class SuffixReader:
    """Reads one suffix; ``bits`` then holds the tones and ``alt`` whether it asked for free alterations.

    ``text`` is the whole symbol for messages, ``body`` its normalised form; the suffix is ``body[start:end]``. Raises
    QueryError for any word that is not understood, or that contradicts an earlier one.
    """

    __slots__ = (
        "added",
        "alt",
        "bits",
        "body",
        "depth",
        "end",
        "fifths",
        "major_pending",
        "omitted",
        "position",
        "quality",
        "replaced",
        "seventh",
        "size",
        "suspended",
        "text",
        "third",
        "upper",
    )

    def __init__(self, text: str, body: str, start: int, end: int) -> None:
        self.text, self.body, self.position, self.end = text, body, start, end
        self.third = 4
        self.quality = ""
        self.size = 0
        self.seventh = 0
        self.major_pending = ""
        self.fifths = self.upper = self.added = self.suspended = self.depth = 0
        self.replaced: set[int] = set()
        self.omitted: list[tuple[int, int]] = []
        self.alt = False
        while self.position < end:
            match = _TOKEN.match(body, self.position, end)
            kind = match.lastgroup if match else None
            if match is None or kind is None:
                self._fail(self._unknown())
            if kind != "gap":
                _HANDLERS[kind](self, match)
            self.position = max(self.position, match.end())
        self.bits = self._finish()

    def _fail(self, why: str) -> NoReturn:
        refuse(self.text, self.position, why)

    def _unknown(self) -> str:
        rest = self.body[self.position : self.end].split("(")[0].split(")")[0].split()
        found = rest[0] if rest else self.body[self.position : self.end]
        if found.startswith("/"):
            return f"after a slash stands a bass note (C/E), not {found[1:]!r}"
        if found.startswith("|"):
            return "a chord over a chord is not read: write one chord with a bass note (C/E)"
        return f"{found!r} is not understood; expected {_EXPECTED}"

    # One method a word. ``position`` is the start of the word until the method moves it.

    def _open(self, _: re.Match[str]) -> None:
        self.depth += 1

    def _close(self, _: re.Match[str]) -> None:
        self.depth -= 1
        if self.depth < 0:
            self._fail("a bracket is closed that was never opened")

    def _set_quality(self, quality: str, third: int) -> None:
        if self.quality or self.size or self.major_pending or self.alt:
            self._fail("a second quality contradicts the first")
        self.quality, self.third = quality, third

    def _minor(self, _: re.Match[str]) -> None:
        self._set_quality("minor", 3)

    def _dim(self, _: re.Match[str]) -> None:
        self._set_quality("dim", 3)
        self.fifths |= 1 << 6

    def _half(self, _: re.Match[str]) -> None:
        self._set_quality("half", 3)
        self.fifths |= 1 << 6
        self.seventh = 10

    def _dom(self, match: re.Match[str]) -> None:
        self._set_quality("dom", 4)
        if not _TOKEN_SIZE.match(self.body, match.end(), self.end):
            self._fail("a dominant chord needs its number: 7, 9, 11 or 13")

    def _aug(self, _: re.Match[str]) -> None:
        if self.third == 3:
            self._fail("a minor chord is not augmented: write m7#5, or m(maj7) for the major seventh")
        if self.fifths:
            self._fail("the fifth is altered twice")
        self.fifths |= 1 << 8

    def _major(self, match: re.Match[str]) -> None:
        if (
            self.major_pending
            or self.quality in ("half", "dom")
            or self.alt
            or (self.size in (5, 7) and self.quality != "dim")
        ):
            self._fail("a major seventh contradicts what stands before it")
        self.major_pending = match.group()

    def _seventh_major(self, match: re.Match[str]) -> None:
        if self.size:
            self._fail("a major seventh contradicts what stands before it")
        self._major(match)
        self._number_is(7)

    def _add(self, match: re.Match[str]) -> None:
        found = _ADDED.match(self.body, match.end(), self.end)
        if found is None:
            self._fail("after add stands a degree: add9, add11, add#11")
        sign, degree = found.groups()
        tone = _CHANGED.get(_SIGNS.get(sign, sign) + degree) if sign else _NATURAL[degree]
        if tone is None:
            self._fail(f"{sign}{degree} is no degree that chords add")
        self.added |= 1 << tone
        self.position = found.end()

    def _omit(self, match: re.Match[str]) -> None:
        self.omitted.append((int(match["left"]), self.position))

    def _sus(self, match: re.Match[str]) -> None:
        if self.suspended or self.alt or self.size == 5:
            self._fail("a suspension contradicts what stands before it")
        which = match["suspended"] or "4"
        self.suspended = (1 << 2 if "2" in which else 0) | (1 << 5 if "4" in which else 0)

    def _alt(self, _: re.Match[str]) -> None:
        if self.alt or self.size not in (0, 7) or self.quality not in ("", "dom") or self.major_pending:
            self._fail("alt stands on a dominant seventh alone: 7alt")
        if self.suspended or self.seventh:
            self._fail("alt contradicts what stands before it")
        self.alt = True
        self.size = 7

    def _ped(self, match: re.Match[str]) -> None:
        if self.quality or self.size or match.end() != self.end:
            self._fail("ped is the bare root and takes no other word")
        self.omitted += [(3, self.position), (5, self.position)]

    def _change(self, match: re.Match[str]) -> None:
        self._alter(match.group()[0], match["changed"])

    def _alter(self, sign: str, degree: str) -> None:
        tone = _CHANGED.get(sign + degree)
        if tone is None:
            self._fail(f"{sign}{degree} is no degree that chords alter")
        if degree == "5":
            self.fifths |= 1 << tone
        elif degree == "3":
            self.third = 3
        elif sign + degree == "#7":
            self.major_pending = "#"
            self._number_is(7)
        elif degree == "7":
            if self.seventh or self.size >= 7:
                self._fail("the chord has a seventh already")
            self.seventh = 10
        else:
            self.upper |= 1 << tone
            self.replaced.add({"2": 9, "10": 9, "4": 11, "6": 13}.get(degree) or int(degree))

    def _sign(self, sign: str, match: re.Match[str]) -> bool:
        """A plus or minus with a degree after it; False when it stands alone."""
        degree = _SIGNED.match(self.body, match.end(), self.end)
        if degree is None:
            return False
        self._alter(sign, degree[1])
        self.position = degree.end()
        return True

    def _plus(self, match: re.Match[str]) -> None:
        is_degree = bool(self.size or self.depth or self.major_pending or self.body.startswith("5", match.end()))
        if not (is_degree and self._sign("#", match)):
            self._aug(match)

    def _minus(self, match: re.Match[str]) -> None:
        if not (self.quality or self.size or self.depth or self.major_pending or self.upper or self.fifths):
            self._minor(match)
        elif not self._sign("b", match):
            self._fail("a minus after the quality lowers a degree: -5, -9, -13")

    def _six_nine(self, _: re.Match[str]) -> None:
        if self.size or self.quality in ("dim", "half", "dom") or self.major_pending in _DELTAS:
            self._fail("6/9 contradicts what stands before it")
        self.major_pending = ""
        self.size = 6
        self.added |= 1 << 2

    def _number(self, match: re.Match[str]) -> None:
        if self.body[self.position - 1].isdigit():
            self._fail("two numbers run into each other: set the second in brackets")
        self._number_is(int(match.group()))

    def _number_is(self, number: int) -> None:
        if self.major_pending and number != 6:
            self._major_number(number)
        elif self.size or (self.depth and number != 7) or number in (2, 3, 4):
            self._extra(number)
        else:
            self._first_number(number)
        self.major_pending = ""

    def _major_number(self, number: int) -> None:
        if number < 7:
            self._fail(f"{self.major_pending}{number} is no chord: maj7, maj9, maj11, maj13, maj7(#11)")
        if self.quality == "dim" and self.size >= 7:
            self.added |= 1 << 11
            return
        if self.seventh or self.size in (5, 7):
            self._fail("the chord has a seventh already")
        self.seventh = 11
        if self.size == 6:
            self.upper |= 1 << 9
        self.size = max(self.size, number)

    def _extra(self, number: int) -> None:
        if number in (3, 5, 7) or (number == 4 and not self.depth):
            self._fail(f"{number} is not understood here; expected {_EXPECTED}")
        if number == 6 and not self.size:
            self.size = 6
        self.added |= 1 << _NATURAL[str(number)]

    def _first_number(self, number: int) -> None:
        allowed = {"dim": (7, 9, 11), "half": (7, 9, 11, 13), "dom": (7, 9, 11, 13)}.get(self.quality)
        if allowed and number not in allowed:
            self._fail(f"{number} makes no sense after the quality; expected one of {', '.join(map(str, allowed))}")
        if number == 5 and (self.quality or self.suspended or self.fifths):
            self._fail("5 is the bare fifth and takes no quality before it")
        if number == 6 and self.major_pending in _DELTAS:
            self._fail("a major seventh sign before 6: write 6, or maj7(13)")
        self.size = number

    # What the words amount to.

    def _finish(self) -> int:
        self.position = self.end
        if self.depth:
            self._fail("a bracket is left open")
        if self.major_pending and not self.size and (self.major_pending in _DELTAS or self.third == 3 or self.fifths):
            self.size, self.seventh = 7, 11
        degrees = {1: 1, 3: 0, 5: self._fifth_bits(), 6: 0, 7: 0, 9: 0, 11: 0, 13: 0}
        if not self.suspended and self.size != 5:
            degrees[3] = 1 << self.third
        if self.size == 6:
            degrees[6] = 1 << 9
        if self.seventh or self.size >= 7:
            degrees[7] = 1 << (self.seventh or (9 if self.quality == "dim" else 10))
        for number, tone in ((9, 2), (11, 5), (13, 9)):
            if self.size >= number and number not in self.replaced:
                degrees[number] = 1 << tone
        for number, position in self.omitted:
            absent_by_nature = (number == 3 and (self.suspended or self.size == 5)) or (number == 5 and self.alt)
            if not degrees[number] and not absent_by_nature:
                refuse(self.text, position, f"there is no {number} to leave out")
            degrees[number] = 0
        bits = self.suspended | self.upper | self.added
        for degree_bits in degrees.values():
            bits |= degree_bits
        return bits

    def _fifth_bits(self) -> int:
        return self.fifths or (0 if self.alt else 1 << 7)


_DELTAS: Final = ("Δ", "^", "j")
_TOKEN_SIZE: Final = re.compile(r"[\s(]*(?:7|9|11|13)(?!\d)")
_HANDLERS: Final = {
    "open": SuffixReader._open,
    "close": SuffixReader._close,
    "add": SuffixReader._add,
    "omit": SuffixReader._omit,
    "sus": SuffixReader._sus,
    "alt": SuffixReader._alt,
    "half": SuffixReader._half,
    "dim": SuffixReader._dim,
    "aug": SuffixReader._aug,
    "dom": SuffixReader._dom,
    "delta": SuffixReader._major,
    "major": SuffixReader._major,
    "minor": SuffixReader._minor,
    "ped": SuffixReader._ped,
    "change": SuffixReader._change,
    "plus": SuffixReader._plus,
    "minus": SuffixReader._minus,
    "sixnine": SuffixReader._six_nine,
    "seventhmajor": SuffixReader._seventh_major,
    "number": SuffixReader._number,
}
