"""The cured copy of a measure that music21 is given: notes only, at sounding pitch, in ticks, each with a voice."""

from typing import Final
from xml.etree.ElementTree import Element, SubElement

from corpus.pitch import LETTERS
from corpus.read.musicxml_pitch import checked, nearest_semitone, written_pitch
from corpus.transposition import Transposition

_DEAD_HEADS: Final = frozenset({"x", "cross", "circle-x", "slash"})


class CuredMeasure:
    """A measure that is being filled. ``element`` is what music21 reads, ``voices`` the voices in it."""

    def __init__(self) -> None:
        self.element = Element("measure")
        self.voices: set[str] = set()
        self._at = 0
        self._has_head = False  # whether the group of notes being read has a cured note already

    def begin_group(self) -> None:
        """The next note begins a chord, or stands alone."""
        self._has_head = False

    def add(
        self,
        parts: dict[str, Element],
        *,
        voice: str,
        start_ticks: int,
        length_ticks: int | None,
        transposition: Transposition,
    ) -> bool:
        """Add a note by the children of its ``<note>``; ``length_ticks`` None is a grace note.

        Returns whether a microtone was rounded. Raises ValueError for a pitch that cannot be read.
        """
        pitch, is_rounded = _pitch(parts, transposition)
        if not self._has_head and start_ticks != self._at:
            move = SubElement(self.element, "forward" if start_ticks > self._at else "backup")
            SubElement(move, "duration").text = str(abs(start_ticks - self._at))
            self._at = start_ticks
        note = SubElement(self.element, "note")
        if length_ticks is None:
            SubElement(note, "grace")
        if self._has_head:
            SubElement(note, "chord")
        note.append(pitch)
        if length_ticks is None:
            SubElement(note, "type").text = "eighth"
        else:
            SubElement(note, "duration").text = str(length_ticks)
            if not self._has_head:
                self._at += length_ticks
            if _is_tied(parts):
                SubElement(note, "tie").set("type", "start")
        SubElement(note, "voice").text = voice
        head = parts.get("notehead")
        if head is not None:
            cured = SubElement(note, "notehead")
            cured.text = "x" if (head.text or "").strip() in _DEAD_HEADS else "normal"
            cured.set("parentheses", "yes" if head.get("parentheses") == "yes" else "no")
        self._has_head = True
        self.voices.add(voice)
        return is_rounded


def _pitch(parts: dict[str, Element], transposition: Transposition) -> tuple[Element, bool]:
    """The pitch as music21 reads it, and whether it was rounded to a semitone."""
    if "pitch" not in parts:
        return Element("unpitched"), False
    texts = {child.tag: (child.text or "").strip() for child in parts["pitch"]}
    letter, alteration, octave = written_pitch(texts.get("step", ""), texts.get("alter", ""), texts.get("octave", ""))
    rounded = nearest_semitone(alteration)
    pitch = checked(transposition.sounding(letter, rounded, octave))
    element = Element("pitch")
    SubElement(element, "step").text = LETTERS[pitch.letter]
    if pitch.alteration:
        SubElement(element, "alter").text = str(pitch.alteration)
    SubElement(element, "octave").text = str(pitch.octave)
    return element, rounded != alteration


def _is_tied(parts: dict[str, Element]) -> bool:
    """Whether a tie leaves the note, by ``<tie>`` (sound) or ``<tied>`` (print): exporters write either."""
    note_ties = [parts["tie"]] if "tie" in parts else []
    if "notations" in parts:
        note_ties += parts["notations"].findall("tied")
    return any(tie.get("type") in ("start", "continue") for tie in note_ties)
