"""The independent reader against music21's own parse of the same files.

Known differences, allowed for: music21 ignores `transpose=` in ABC (a constant
octave), and loses the accidental of a note tied over a bar line in ABC (merged
notes are compared by the pitch of their first part).
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from music21 import converter

from tests.seed.independent import SEED, Line, read_all


def label(line: Line) -> str:
    """A readable test name."""
    return f"{line.title}-{line.player.split()[0]}"


def parsed(line: Line) -> Any:
    """Music21's score of a line."""
    path = SEED / line.file
    if path.suffix == ".musicxml":
        return converter.parse(path, forceSource=True).toSoundingPitch()
    text = path.read_text(encoding="utf-8")
    tunes = ["X:" + tune for tune in text.split("\nX:")[1:]]
    (tune,) = [x for x in tunes if f"T:{line.title}\n" in x and f"wellworn-player {line.player}\n" in x]
    return converter.parse("%abc-2.1\n" + tune, format="abc", forceSource=True)


def outside_notes(score: Any) -> list[tuple[float, int]]:
    """Onset and pitch of each note, ties merged by hand, grace notes left out."""
    found = []
    for note in score.flatten().notes:
        if "Note" not in note.classes or note.duration.isGrace:
            continue
        if note.tie is not None and note.tie.type in ("stop", "continue"):
            continue
        found.append((round(float(note.offset), 4), note.pitch.midi))
    return found


@pytest.mark.parametrize("line", read_all(), ids=label)
def test_reader_agrees_with_music21(line: Line) -> None:
    """Both readers hear the same pitches at the same onsets."""
    shift = 12 if line.file.endswith(".abc") and line.instrument == "Double bass" else 0
    pickup = max(-line.notes[0].onset, Fraction(0))
    ours = [(round(float(note.onset + pickup), 4), note.midi + shift) for note in line.notes]
    assert outside_notes(parsed(line)) == ours
