"""Where an occurrence must stand: over which progression or function, on which role it starts and lands, which bar.

Functions are those of one simplification level, kept as ``FunctionText``; roles are the plain role reading.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from corpus.form import bars_of_form
from corpus.match.exact import Occurrence
from corpus.model import Transcription

if TYPE_CHECKING:
    from corpus.harmony.over import FunctionChoice, FunctionText, Progression
    from corpus.harmony.role_symbols import RoleChoice


@dataclass(frozen=True, slots=True)
class Context:
    """What is wanted around a figure; None asks for nothing.

    ``over`` is a progression that the figure stands over; its last note may fall on the chord that follows, at once.
    ``first_over`` and ``last_over`` are functions under
    its first and last note, ``starts_on`` and ``lands_on`` the roles of these notes. ``form_bar`` counts the bars of
    the form from 1, ``beat`` the beats of the bar; both are those of the first note. ``level`` is the simplification
    level of all functions.
    """

    over: "Progression | None" = None
    level: int = 0
    first_over: "FunctionChoice | None" = None
    last_over: "FunctionChoice | None" = None
    starts_on: "RoleChoice | None" = None
    lands_on: "RoleChoice | None" = None
    form_bar: int | None = None
    beat: Fraction | None = None

    @property
    def is_empty(self) -> bool:
        """Whether nothing is asked for."""
        return not (self.needs_harmony or self.form_bar or self.beat)

    @property
    def needs_harmony(self) -> bool:
        """Whether functions or roles are asked for."""
        return any((self.over, self.first_over, self.last_over, self.starts_on, self.lands_on))


@dataclass(frozen=True, slots=True)
class LineHarmony:
    """What is stored of a line's harmony: its functions at one level, and its roles, one symbol a note."""

    functions: "FunctionText"
    roles: str


def stretches(progression: "Progression", line: Transcription, harmony: LineHarmony) -> Iterator[tuple[int, int, int]]:
    """Ticks at which each place of a progression begins and ends, and at which its last chord begins."""
    functions, steps = harmony.functions, len(progression)
    for start in progression.places(functions.text):
        begin, end, last_onset = functions.stretch(start, steps, line.chords)
        evenly = functions.begins_evenly(start, steps, line.chords)
        # Where nothing starts from there on, the place is one by its long first chord.
        is_silent = not any(evenly <= note.onset_ticks < end for note in line.notes)
        yield begin if is_silent else evenly, end, last_onset


def fits(context: Context, line: Transcription, occurrence: Occurrence, harmony: LineHarmony | None) -> bool:
    """Whether an occurrence stands where it is wanted; a line without harmony answers no question about it."""
    if not _fits_place(context, line, occurrence.first):
        return False
    if not context.needs_harmony:
        return True
    if harmony is None:
        return False
    for choice, index in ((context.first_over, occurrence.first), (context.last_over, occurrence.last)):
        if choice is not None and not choice.matches(_function_at(line, harmony, line.notes[index].onset_ticks)):
            return False
    for role, index in ((context.starts_on, occurrence.first), (context.lands_on, occurrence.last)):
        if role is not None and harmony.roles[index] not in role.symbols:
            return False
    if context.over is None:
        return True
    first, last = line.notes[occurrence.first].onset_ticks, line.notes[occurrence.last].onset_ticks
    return any(start <= first < end and last <= end for start, end, _ in stretches(context.over, line, harmony))


def _fits_place(context: Context, line: Transcription, first: int) -> bool:
    # A typed beat such as 1.333 is rounded: a fiftieth of a beat is near enough.
    if context.beat is not None and abs(line.beat_of(first) - context.beat) > Fraction(1, 50):
        return False
    if context.form_bar is None:
        return True
    places = bars_of_form(line.bars, line.details.form)
    return places[line.notes[first].bar_index] == context.form_bar


def _function_at(line: Transcription, harmony: LineHarmony, tick: int) -> str:
    chord = line.chord_at(tick)
    return "" if chord is None else harmony.functions.symbol_at(line.chords.index(chord))


def lines_over(context: Context, line: Transcription, harmony: LineHarmony) -> Iterator[Occurrence]:
    """What is played over each place of the context's progression: all notes that start there.

    Here the line lands on its first note over the last chord, and the function under the last note is not asked.
    """
    assert context.over is not None
    onsets = [note.onset_ticks for note in line.notes]
    for start, end, last_onset in stretches(context.over, line, harmony):
        inside = [index for index, onset in enumerate(onsets) if start <= onset < end]
        if not inside or not _fits_place(context, line, inside[0]):
            continue
        landing = next((index for index in inside if onsets[index] >= last_onset), None)
        if context.starts_on is not None and harmony.roles[inside[0]] not in context.starts_on.symbols:
            continue
        if context.lands_on is not None and (landing is None or harmony.roles[landing] not in context.lands_on.symbols):
            continue
        yield Occurrence(inside[0], inside[-1], None)
