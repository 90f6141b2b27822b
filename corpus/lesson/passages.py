"""Passages of several lines on one page: what is told of each, and when all of them sound, one after the other.

Notes are numbered over the whole page: note ``i`` of a passage's line is note ``i + shift`` of the page, so that a
click on any notation finds its sound.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from corpus.harmony.analysis import Analysis, analyse
from corpus.harmony.roles import NoteRole, roles_of
from corpus.lesson.figures import FigureNote, degrees_below, figure_notes
from corpus.lesson.schedule import USUAL_TEMPO, BarTime, Click, Schedule, Sound, bar_name, schedule_of
from corpus.lesson.signs import with_signs
from corpus.match.exact import Occurrence
from corpus.model import Transcription
from corpus.pitch import transposition_name
from corpus.text import clean_text


@dataclass(frozen=True)
class Passage:
    """A figure's place as it is told: its line's title and player, where it stands, what differs there, its notes."""

    line: Transcription
    occurrence: Occurrence
    label: str
    title: str
    player: str
    where: str
    transposed: str
    changes: tuple[str, ...]
    notes: tuple[FigureNote, ...]

    @property
    def below(self) -> dict[int, str]:
        """Degrees to stand below its notes, by note index."""
        return degrees_below(self.occurrence.first, self.notes)

    @property
    def words(self) -> str:
        """Its notes and the chords under them."""
        notes = " ".join(note.note for note in self.notes)
        chords = " ".join(note.chord for note in self.notes if note.chord)
        return f"{notes} over {chords}" if chords else notes


class Passages:
    """Makes passages; the harmony of a line is analysed once."""

    def __init__(self) -> None:
        self._seen: dict[int, tuple[Transcription, Analysis, Sequence[NoteRole | None]]] = {}

    def passage(self, line: Transcription, occurrence: Occurrence, label: str) -> Passage:
        """What is told of a place."""
        key = id(line)
        if key not in self._seen:
            analysis = analyse(line)
            # The line is kept beside its harmony, so that no other can take its identity.
            self._seen[key] = (line, analysis, roles_of(line, analysis.spans))
        _, analysis, roles = self._seen[key]
        bar, section = line.bar_of(occurrence.first), line.section_at(line.notes[occurrence.first].onset_ticks)
        facts = [f"bar {bar_name(bar)}, beat {float(line.beat_of(occurrence.first)):.4g}"]
        facts += [f"chorus {bar.chorus}"] if line.bars[-1].chorus > 1 else []
        facts += [f"section {section.label}"] if section else []
        return Passage(
            line,
            occurrence,
            label,
            clean_text(line.details.title) or "Untitled line",
            clean_text(line.details.player),
            ", ".join(facts),
            "" if not occurrence.transposed else transposition_name(occurrence.transposed),
            tuple(with_signs(change.words) for change in occurrence.changes if change.words),
            figure_notes(line, analysis, roles, occurrence),
        )


@dataclass(frozen=True)
class InARow:
    """The passages' sounds one after the other; ``shifts`` has an entry a passage, as ``schedule.bars`` has."""

    schedule: Schedule
    shifts: tuple[int, ...]


def in_a_row(passages: Sequence[tuple[Transcription, range]]) -> InARow:
    """When the bars of each passage sound, all at the first one's tempo; each begins where the one before ends."""
    tempo = (passages[0][0].details.tempo_bpm if passages else None) or USUAL_TEMPO
    sounds: list[Sound] = []
    clicks: list[Click] = []
    stations: list[BarTime] = []
    shifts: list[int] = []
    begin, number = 0.0, 0
    for name, (line, bars) in enumerate(passages, start=1):
        own = schedule_of(line, bars.start, bars.stop - 1, tempo)
        # One number is left free for a note held over into the first bar.
        first = min((sound.note for sound in own.sounds), default=0)
        shifts.append(number + 1 - first)
        end = own.bars[-1].end  # no note sounds into the next passage
        sounds += [
            Sound(s.note + shifts[-1], begin + s.start, min(s.length, end - s.start), s.pitch, s.is_ghost)
            for s in own.sounds
        ]
        clicks += [Click(begin + click.start, click.is_first) for click in own.clicks]
        stations.append(BarTime(str(name), begin, begin + end))
        begin += end
        number = max([number + 1, *(sound.note for sound in sounds)])
    assert all(before.note < after.note for before, after in pairwise(sounds)), "every note has a number of its own"
    return InARow(Schedule(tempo, tuple(sounds), tuple(clicks), tuple(stations)), tuple(shifts))
