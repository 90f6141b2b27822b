"""An independent path: music21's own scores and intervals of 300 shipped tunes against our readings.

Tunes are left out only for reasons that stand in their text, each a fault of music21 10.5.1 that was looked at:
never because the two readings differ.
"""

import importlib.util
import random
import re
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

import pytest

from corpus.model import TICKS_PER_QUARTER, Bar, Details, Meter, Note, Transcription
from corpus.read.abc import read_abc_tune, split_tunes
from corpus.read.abc_text import AbcTune
from corpus.read.written import ReadingWishes, WrittenLine
from corpus.readings import Line, contour_symbol, line_of, read, signed_symbol

COLLECTIONS: Final = ("oneills1850", "ryansMammoth", "airdsAirs", "essenFolksong", "miscFolk")
TUNES: Final = 300

FAULTS: Final = {
    "a fermata sign H right before a note: the note is dropped": r"H[\s.~uvT]*[\^_=]*[A-Ga-gz]",
    "a quoted text that begins with >: the note is dropped": r'"\s*>',
    "a decoration right before an accidental: the accidental is not carried through the bar": r"[~.HLMOPSTuv][\^_=]",
    "a tie after or inside a chord is lost": r"\][\d/]*\s*-|\[[^\]|\n]*-[^\]|\n]*\]",
    "a capital letter right before a colon is taken for a field": r"[A-Z]:[:\]]",
    "a tie over a bar line in a tune with accidentals: the tied note loses its accidental": (
        r"-[\s\\]*\|[\s\S]*[\^_=]|[\^_=][\s\S]*-[\s\\]*\|"
    ),
    "several voices: read by neither without a choice": r"\[V:|^V:",
    "an inline key is ignored": r"\[K:",
    "a chord broken over two lines: read only in part": r"\[[^\]|\n]*\n[^|\n]*\]",
    "an invisible bar line [|] is read as a chord": r"\[\|\]",
}
"""Reasons and the pattern in a tune's body that shows them."""
HEADER_FAULTS: Final = {
    "free text in the header is read as music": r"^(?![A-Za-z]:|%|\s*$|K:)",
    "a German key is not known": r"^K:\s*(?:H|Es|As)\b",
    "explicit accidentals in a key are ignored": r"^K:.*[\^_=][a-gA-G]",
    "a key that is no tonic and mode is read as C": r"^K:\s*(?:none|exp|H[pP]|[A-G][b#]?n\b|[A-G][b#]?\s*mixm)",
}


def fault_in(text: str) -> str | None:
    """The first known fault of music21 that a tune's text runs into."""
    bare = re.sub(r"(?m)(?<!\\)%.*$", "", text)
    header, _, rest = bare.partition("\nK:")
    key, _, body = rest.partition("\n")
    body = "\n".join(line for line in body.split("\n") if not re.match(r"\s*[NTWwPQLMRSZ]:(?![|:])", line))
    for reason, pattern in HEADER_FAULTS.items():
        if re.search(pattern, f"{header.strip()}\nK:{key}", re.MULTILINE):
            return reason
    for reason, pattern in FAULTS.items():
        if re.search(pattern, body, re.MULTILINE):
            return reason
    return None


def sample() -> list[AbcTune]:
    """300 tunes, as many from each collection as the smallest allows, with a fixed seed."""
    spec = importlib.util.find_spec("music21")
    assert spec is not None
    assert spec.origin is not None
    root = Path(spec.origin).parent / "corpus"
    chance = random.Random(20_240_607)
    found: list[AbcTune] = []
    for collection in COLLECTIONS:
        paths = sorted((root / collection).glob("*.abc"))
        chosen = chance.sample(paths, min(len(paths), 40))
        tunes = [tune for path in chosen for tune in split_tunes(path.read_bytes(), path.name)]
        found += chance.sample(tunes, min(len(tunes), TUNES // len(COLLECTIONS)))
    return found + chance.sample(tunes, TUNES - len(found)) if len(found) < TUNES else found


def our_line(written: WrittenLine) -> Line:
    """The written notes in written order as quarter notes of one bar, repeats not played out, ties merged."""
    notes: list[Note] = []
    tied: int | None = None
    for bar in written.bars:
        for note in bar.notes:
            if tied is None or tied != note.pitch:
                onset = len(notes) * TICKS_PER_QUARTER
                notes.append(Note(onset, TICKS_PER_QUARTER, note.pitch, note.spelling, bar_index=0))
            tied = note.pitch if note.tied_to_next else None
    only = Bar(1, 1, 0, len(notes) * TICKS_PER_QUARTER, 0, Meter(max(len(notes), 1), 4))
    return line_of(Transcription(Details(), tuple(notes), (only,)))


def music21_intervals(tune: AbcTune) -> list[tuple[int, int]]:
    """Semitones and letter steps between neighbouring notes, from music21's score and ``interval.Interval``."""
    from music21 import converter, harmony, interval, stream

    score: Any = converter.parse("%abc-2.1\n" + tune.text + "\n", format="abc", forceSource=True)
    if isinstance(score, stream.Opus):
        score = score.scores[0]
    pitches: list[Any] = []
    tied: int | None = None
    for note in score.parts[0].recurse().notes:
        if isinstance(note, harmony.Harmony) or note.duration.isGrace:
            continue
        pitch = max(note.pitches, key=lambda p: p.ps)
        if tied is None or tied != pitch.midi:
            pitches.append(pitch)
        # stripTies would also merge the slurs between different pitches that O'Neill's editors wrote as ties.
        tied = pitch.midi if note.tie is not None and note.tie.type in ("start", "continue") else None
    found = [interval.Interval(one, two) for one, two in pairwise(pitches)]
    return [(round(step.semitones), step.generic.staffDistance) for step in found]


@pytest.fixture(scope="module")
def tunes() -> list[AbcTune]:
    """The sample."""
    return sample()


def test_few_tunes_are_left_out(tunes: list[AbcTune]) -> None:
    """Known faults of music21 leave out less than a tenth of the sample."""
    assert len(tunes) == TUNES
    reasons = [reason for tune in tunes if (reason := fault_in(tune.text))]
    assert len(reasons) < TUNES / 10, reasons


def test_readings_equal_those_of_music21(tunes: list[AbcTune]) -> None:
    """Interval, step and contour of every other tune equal music21's."""
    differing: list[str] = []
    for tune in tunes:
        if fault_in(tune.text):
            continue
        line = our_line(read_abc_tune(tune, ReadingWishes()))
        expected = music21_intervals(tune)
        theirs = {
            "interval": "0" + "".join(signed_symbol(semitones) for semitones, _ in expected),
            "step": "0" + "".join(signed_symbol(steps) for _, steps in expected),
            "contour": "0" + "".join(contour_symbol(semitones) for semitones, _ in expected),
        }
        ours = {"interval": read(line, "interval"), "step": read(line, "step"), "contour": read(line, "contour")}
        if ours != theirs:
            differing.append(f"{tune.place}: {ours} {theirs}")
    assert differing == []
