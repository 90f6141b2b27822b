"""What steers the playing order on a MusicXML page: repeats, endings, jumps, signs and rehearsal marks of a bar.

music21 loses or bends much of this, so it is read from the tree. Marks are collected bar by bar in a ``Marks`` value;
what a sign at the end of a bar says about the next one is handed on by ``MarkReader``.

Losses: a repeat sign in the middle of a bar is reported and not played; ``after-jump`` and ``time-only`` are ignored.
"""

import re
from dataclasses import dataclass, fields
from typing import Final
from xml.etree.ElementTree import Element

from corpus.read.written import Jump
from corpus.text import clean_text

_MOST_ENDINGS: Final = 32
_DA_CAPO = re.compile(r"^\W*(d\.\s*c\b|dc\b|da\s+capo)|\b(d\.\s*c\.?|dc|da\s+capo)\s+al\b", re.IGNORECASE)
_DAL_SEGNO = re.compile(
    r"^\W*(d\.\s*s\b|dss?\b|dal\s+segno|(d\.|dal)\s*[%𝄋])|\b(d\.\s*s\.?(\s*s\.?)?|dss?|dal\s+segno)\s+al\b",
    re.IGNORECASE,
)
_CODA_SIGN: Final = "\U0001d10c\u2295"
"""The sign itself, and the circled plus that stands in for it."""
_SEGNO_SIGN: Final = "\U0001d10b"
_TO_CODA = re.compile(rf"\bto\s+(the\s+)?(\d\w*\s+)?(coda\b|[{_CODA_SIGN}])", re.IGNORECASE)
_FINE = re.compile(r"^\W*fine\W*$", re.IGNORECASE)
_CODA = re.compile(rf"^\W*(\d\w*\s+)?coda(\s+\d)?\W*$|^[\s{_CODA_SIGN}]*[{_CODA_SIGN}](\s*coda)?\W*$", re.IGNORECASE)
_SEGNO = re.compile(rf"^\W*segno\W*$|^\s*{_SEGNO_SIGN}+\s*$", re.IGNORECASE)
_WITH_REPEATS = re.compile(r"\bwith\s+(all\s+)?rep(eat|\.|s)|\bcon\s+rep", re.IGNORECASE)


@dataclass(slots=True)
class Marks:
    """The signs of one bar, in the terms of ``WrittenBar``; ``coda_leaves_before`` is a bare coda sign at its start."""

    starts_repeat: bool = False
    times: int = 0
    endings: tuple[int, ...] = ()
    starts_ending: bool = False
    closes_ending: bool = False
    segno: bool = False
    coda: bool = False
    fine: bool = False
    to_coda: bool = False
    jump: Jump | None = None
    segno_name: str = ""
    segno_wanted: str = ""
    jump_with_repeats: bool = False
    section: str | None = None
    is_bare_coda: bool = False
    coda_leaves_before: bool = False

    def fill_from(self, other: "Marks") -> None:
        """Take over what another part says about the same bar where this part says nothing."""
        for mark in fields(self):
            if not getattr(self, mark.name):
                setattr(self, mark.name, getattr(other, mark.name))


class MarkReader:
    """Reads the marks of one part, bar after bar; remembers open brackets and what belongs to the next bar."""

    def __init__(self) -> None:
        self._open_ending: tuple[int, ...] = ()
        self._last_ending = 0
        self._before = Marks()
        self._next = Marks()
        self.current = Marks()

    def begin_bar(self) -> Marks:
        """Start the next bar and return its marks, to be filled while its elements are read."""
        self._before, self.current, self._next = self.current, self._next, Marks()
        self.current.endings = self._open_ending
        return self.current

    def move_section_to_next_bar(self) -> None:
        """A rehearsal mark that stands behind the last note of a bar names the bar that follows."""
        self._next.section, self.current.section = self.current.section, None

    def barline(self, element: Element) -> str | None:
        """Read a ``<barline>``; the text of a remark when it asks for something that cannot be played."""
        location = element.get("location", "right")
        if element.find("segno") is not None or element.get("segno"):
            (self.current if location == "left" else self._next).segno = True
        if element.find("coda") is not None or element.get("coda"):
            (self.current if location == "left" else self._next).coda = True
        ending = element.find("ending")
        if ending is not None:
            self._ending(ending)
        repeat = element.find("repeat")
        if repeat is None:
            return None
        if location == "middle":
            return "a repeat sign in the middle of the bar is not played"
        if repeat.get("direction") == "forward":
            (self._next if location == "right" else self.current).starts_repeat = True
        else:
            times = repeat.get("times", "2")
            marks = self._before if location == "left" else self.current
            marks.times = max(int(times), 1) if times.isascii() and times.isdecimal() and len(times) < 6 else 2
        return None

    def _ending(self, element: Element) -> None:
        marks = self.current
        if element.get("type") == "start":
            numbers = ending_numbers(element.get("number", ""), element.text or "")
            # A bracket without a number is the next one after the bracket before it.
            self._open_ending = numbers or (self._last_ending + 1,)
            self._last_ending = 0 if not numbers else max(numbers)
            marks.endings = self._open_ending
            marks.starts_ending = True
        else:
            marks.closes_ending = bool(marks.endings)
            self._open_ending = ()

    def direction(self, element: Element, *, at_start: bool) -> None:
        """Read a ``<direction>``: its sound attributes, else its signs and words.

        ``at_start`` says whether it stands before the first note of the bar.
        """
        marks = self.current
        sound = element.find("sound")
        told = sound is not None and self.sound(sound, at_start=at_start)
        signs = [sign for kind in element.iterfind("direction-type") for sign in kind]
        for sign in signs:
            label = clean_text(sign.text or "") if sign.tag == "rehearsal" else ""
            if label and marks.section is None:
                marks.section = label
        texts = [(sign, _as_text(sign)) for sign in signs]
        joined = " ".join(text for _, text in texts if text)
        if told:
            marks.jump_with_repeats |= marks.jump is not None and _WITH_REPEATS.search(joined) is not None
        elif not self._leads_away(joined):
            for sign, text in texts:
                self._sign(text, is_sign=sign.tag != "words", at_start=at_start)

    def _leads_away(self, text: str) -> bool:
        """Read a jump or a *To Coda*, which may be words and signs in a row; whether there was one."""
        marks = self.current
        if _DA_CAPO.search(text):
            marks.jump = "da capo"
        elif _DAL_SEGNO.search(text):
            marks.jump = "dal segno"
        elif _TO_CODA.search(text):
            marks.to_coda, marks.coda = True, False
            return True
        else:
            return False
        marks.jump_with_repeats |= _WITH_REPEATS.search(text) is not None
        return True

    def _sign(self, text: str, *, is_sign: bool, at_start: bool) -> None:
        marks = self.current
        if self._leads_away(text):
            return
        if _SEGNO.match(text):
            marks.segno = True
        elif _CODA.match(text):
            if marks.to_coda:
                return
            marks.coda = True
            # A bare sign may stand where one leaves; the word Coda is the coda.
            marks.is_bare_coda = is_sign or "coda" not in text.lower()
            marks.coda_leaves_before = marks.is_bare_coda and at_start
        elif _FINE.match(text):
            marks.fine = True

    def sound(self, element: Element, *, at_start: bool) -> bool:
        """Read the jump attributes of a ``<sound>``; whether there were any.

        Some programs write ``coda`` both where one leaves and at the coda, as they print the sign.
        """
        marks = self.current
        known = [name for name in ("dacapo", "dalsegno", "tocoda", "fine", "segno", "coda") if element.get(name)]
        for name in known:
            if name == "dacapo" and element.get(name) == "yes":
                marks.jump = "da capo"
            elif name == "dalsegno":
                marks.jump, marks.segno_wanted = "dal segno", element.get(name, "")
            elif name == "tocoda":
                marks.to_coda = True
            elif name == "fine":
                marks.fine = element.get(name) != "no"
            elif name == "segno":
                marks.segno, marks.segno_name = True, element.get(name, "")
            elif name == "coda":
                marks.coda = marks.is_bare_coda = True
                marks.coda_leaves_before = at_start
        return bool(known)


def _as_text(sign: Element) -> str:
    """Words as they stand, the two signs as the characters for them, nothing for all else."""
    if sign.tag == "words":
        return sign.text or ""
    return {"segno": _SEGNO_SIGN, "coda": _CODA_SIGN[0]}.get(sign.tag, "")


def ending_numbers(number: str, text: str) -> tuple[int, ...]:
    """The passes that an ending bracket names, sorted: from ``1, 3``; a printed text such as ``2.`` or ``1.-3.`` wins.

    Empty when neither holds a number from 1 to 32.
    """
    for source in (text, number):
        found: set[int] = set()
        for match in re.finditer(r"(\d{1,3})\s*\.?\s*(?:[-–]\s*(\d{1,3}))?", source):
            first = int(match[1])
            last = int(match[2]) if match[2] else first
            found.update(range(first, min(last, _MOST_ENDINGS) + 1))
        numbers = tuple(sorted(n for n in found if 1 <= n <= _MOST_ENDINGS))
        if numbers:
            return numbers
    return ()


def settle_codas(bars: list[Marks]) -> None:
    """Tell the coda sign that one leaves at from the coda itself, where the page bears only the bare sign twice."""
    jump = next((i for i, marks in enumerate(bars) if marks.jump), None)
    if jump is None or any(marks.to_coda for marks in bars):
        return
    signs = [i for i, marks in enumerate(bars) if marks.coda]
    if len(signs) < 2 or signs[0] > jump or not bars[signs[0]].is_bare_coda:
        return
    leaving = signs[0]
    bars[leaving].coda = False
    if bars[leaving].coda_leaves_before and leaving > 0:
        leaving -= 1
    bars[leaving].to_coda = True
