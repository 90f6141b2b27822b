"""The account of a chorus: at most two lines a bar, and a summary."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from corpus.errors import RangeError
from corpus.harmony.analysis import analyse
from corpus.harmony.implied import Implied, implied_harmony
from corpus.harmony.roles import roles_of
from corpus.model import Transcription
from corpus.profile.columns import columns_of
from corpus.profile.profile import FEW_NOTES, Profile, profile_of
from corpus.profile.rhythm import rhythm_samples
from corpus.reading.figures import FigureTold, NamedFigure
from corpus.reading.remarks import Remark
from corpus.reading.rules import (
    approach_remarks,
    first_beat_remarks,
    implied_remarks,
    plain_remarks,
    register_remarks,
    rest_remarks,
    rhythm_remarks,
    shape_remarks,
)
from corpus.reading.summary import Summed, summary_of
from corpus.shapes import shapes_of

MOST_A_BAR: Final = 2
TWO_LINES: Final = 148
"""Characters that two lines of 80 columns hold beside the number of the bar."""


@dataclass(frozen=True)
class Account:
    """A chorus told: remarks in order of bars, the summary, implied chords, and what cannot be said.

    ``left_out`` are the remarks for which a bar had no room.
    """

    chorus: int
    remarks: tuple[Remark, ...]
    left_out: tuple[Remark, ...]
    summary: tuple[Summed, ...]
    implied: tuple[Implied, ...]
    figures: tuple[NamedFigure, ...]
    profile: Profile
    cannot_say: tuple[str, ...]


def account(line: Transcription, chorus: int = 1, figures: FigureTold | None = None) -> Account:
    """Tell a chorus of a line; ``figures`` are the recurring figures that the caller knows.

    Raises RangeError for a chorus that the line does not have.
    """
    figures = figures or FigureTold()
    choruses = {bar.chorus for bar in line.bars}
    if chorus not in choruses:
        raise RangeError(f"there is no chorus {chorus}: the line has {max(choruses, default=0)}")
    analysis = analyse(line)
    spans, roles = analysis.spans, roles_of(line, analysis.spans)
    here = [i for i, note in enumerate(line.notes) if line.bars[note.bar_index].chorus == chorus]
    inside = set(here)
    bars = [bar for bar in line.bars if bar.chorus == chorus]
    start, end = bars[0].onset_ticks, bars[-1].onset_ticks + bars[-1].length_ticks
    implied = implied_harmony(line, spans, (start, end))
    shapes = [shape for shape in shapes_of(line, spans) if shape.first in inside]
    columns = columns_of(line, analysis)
    wanted = columns.bar_chorus[columns.bar] == chorus
    profile = profile_of(replace(columns, inside=wanted))
    found = [
        *implied_remarks(line, implied),
        *shape_remarks(line, shapes, implied),
        *register_remarks(line, here),
        *first_beat_remarks(line, roles, here),
        *rhythm_remarks(line, roles, rhythm_samples(columns), here),
        *approach_remarks(line, roles, spans, here),
        *rest_remarks(line, bars),
        *plain_remarks(line, roles, here),
        *(remark for remark in figures.remarks if remark.first in inside),
    ]
    kept, left_out = _worth_saying(found)
    counts = Counter(shape.kind for shape in shapes)
    summary = summary_of(line, profile, implied, counts, figures.figures) if here else []
    told = tuple(figure for figure in figures.figures if any(place.first in inside for place in figure.places))
    return Account(chorus, kept, left_out, tuple(summary), implied, told, profile, tuple(_cannot_say(profile, implied)))


def _worth_saying(remarks: Sequence[Remark]) -> tuple[tuple[Remark, ...], tuple[Remark, ...]]:
    """The weightiest remarks of each bar, in order, and the others.

    At most two, and a recurring figure besides, as long as they fit into two lines of text. An approach is told where
    nothing else is, or as the second one where it leads to something else than those told, and not to a root.
    """
    kept: list[Remark] = []
    left_out: list[Remark] = []
    for bar in sorted({remark.bar_index for remark in remarks}):
        here = sorted(
            (remark for remark in remarks if remark.bar_index == bar),
            key=lambda remark: (-remark.weight, remark.first, remark.text),
        )
        told: list[Remark] = []
        for remark in here:
            if _has_room(remark, told):
                told.append(remark)
        kept += sorted(told, key=lambda remark: (remark.first, -remark.weight))
        left_out += [remark for remark in here if remark not in told]
    return tuple(kept), tuple(left_out)


def _has_room(remark: Remark, told: Sequence[Remark]) -> bool:
    """Whether a bar has room for one more remark, those told before weighing more."""
    if not told:
        return True
    if sum(len(other.text) + 2 for other in told) + len(remark.text) > TWO_LINES:
        return False
    others = [other for other in told if other.kind != "figure"]
    if remark.kind == "figure":
        return len(others) == len(told)
    if remark.kind == "plain":
        return not others
    if remark.kind == "approach" and others:
        return len(others) == 1 and not remark.is_everyday and not _is_part(remark, others[0])
    return len(others) < MOST_A_BAR


def _is_part(approach: Remark, other: Remark) -> bool:
    """Whether an approach lies inside what is told already, or leads to the note that it leads to."""
    return approach.last == other.last or (other.first < approach.first and approach.last <= other.last)


def _cannot_say(profile: Profile, implied: Sequence[Implied]) -> Iterable[str]:
    yield from profile.remarks
    judged = [stretch for stretch in implied if stretch.written is not None and stretch.note_count]
    undecided = sum(stretch.relation == "undecided" for stretch in judged)
    if judged and undecided and profile.note_count >= FEW_NOTES:
        yield f"over {undecided} of {len(judged)} stretches of a chord the notes do not decide which chord they spell"
