"""What on a MusicXML page is no part of the line: hidden and small notes, slashes; and signs to repeat a bar.

- Hidden notes (``print-object="no"``) serve a program's playback or layout; small ones (``<cue>``, ``size="cue"``) are
  another instrument's. Both are left out, unless the part has no others.
- A slash without a stem, and all that stands in a slash region without stems, says "play time": no rhythm, no pitch.
  Slashes with stems are rhythm without pitch.
- A bar under a sign to repeat the bar (or bars) before plays their notes again, unless it has notes of its own.
"""

from copy import deepcopy
from typing import TYPE_CHECKING, Final, Literal
from xml.etree.ElementTree import Element

if TYPE_CHECKING:
    from corpus.read.musicxml_bars import PageBar

_MOST_BARS_REPEATED: Final = 8


def _is_small(note: Element) -> bool:
    kind = note.find("type")
    return note.find("cue") is not None or (
        kind is not None and kind.get("size") == "cue" and note.find("grace") is None
    )


def is_plain(note: Element) -> bool:
    """Whether a ``<note>`` is a note that is printed in full size."""
    return note.find("rest") is None and note.get("print-object") != "no" and not _is_small(note)


class Styles:
    """The styles in force from bar to bar; ``takes_all`` where hidden and small notes are the only ones."""

    def __init__(self) -> None:
        self.takes_all = False
        self._slash: Literal["", "free", "rhythm"] = ""
        self._repeated_bars = 0

    def read(self, style: Element) -> str:
        """Read a ``<measure-style>``; the text of a remark for what is lost, else an empty one."""
        for sign in style:
            is_start = sign.get("type") == "start"
            if sign.tag == "slash":
                self._slash = ("rhythm" if sign.get("use-stems") == "yes" else "free") if is_start else ""
            elif sign.tag == "measure-repeat":
                text = (sign.text or "").strip()
                count = int(text) if text.isascii() and text.isdecimal() and len(text) < 3 else 1
                self._repeated_bars = min(max(count, 1), _MOST_BARS_REPEATED) if is_start else 0
            elif sign.tag == "beat-repeat" and is_start:
                return "a sign to repeat a beat is not played out"
        return ""

    def left_out(self, note: Element, parts: dict[str, Element]) -> str:
        """Why a note is no part of the line, as a remark; empty for one that is."""
        if not self.takes_all:
            if note.get("print-object") == "no":
                return "hidden notes are left out"
            if _is_small(note):
                return "cue notes are left out"
        head, stem = parts.get("notehead"), parts.get("stem")
        is_slash = head is not None and (head.text or "").strip() == "slash"
        is_stemless = stem is not None and (stem.text or "").strip() == "none"
        if self._slash == "free" or (is_slash and is_stemless):
            return "slashes without stems name no notes: left out"
        return ""

    def copies(self, bar: "PageBar", before: "list[PageBar]") -> bool:
        """Fill a bar that only bears a sign to repeat; whether it was filled."""
        if not self._repeated_bars or bar.voices or len(before) < self._repeated_bars:
            return False
        pattern = before[-self._repeated_bars]
        if not pattern.voices or pattern.length_ticks != bar.length_ticks:
            return False
        bar.notes, bar.voices = deepcopy(pattern.notes), pattern.voices
        return True
