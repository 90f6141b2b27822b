"""The figures of a lesson: what is told of each family that stands in the line, with its places there.

Letters follow the order in which figures first stand in the bars shown. A place with other notes than the typical form
bears a prime, a different one for each kind of change; octaves, doublings and rhythm do not count as other notes.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from corpus.harmony.analysis import Analysis
from corpus.harmony.roles import NoteRole
from corpus.lesson.schedule import bar_name
from corpus.lesson.signs import with_signs
from corpus.match.exact import Occurrence
from corpus.model import Transcription
from corpus.pitch import transposition_name
from corpus.recur.letters import letter as letter_of
from corpus.recur.portrait import disguises_of

PRIMES: Final = ("", "′", "″", "‴")
_SAME_NOTES: Final = frozenset({"as it is", "octave displaced", "doubled", "stretched", "shifted", "other rhythm"})


@dataclass(frozen=True)
class FoundFamily:
    """A family of the corpus as it is handed in: its places in the line, and what is told of all its places.

    ``notes`` are those of the typical form; ``contexts`` and ``labels`` phrases; ``disguises`` counts by disguise;
    ``elsewhere`` places in other lines in words.
    """

    notes: Sequence[str]
    occurrences: Sequence[Occurrence]
    count: int
    tunes: int
    players: int
    labels: Sequence[str] = ()
    contexts: Sequence[str] = ()
    disguises: Mapping[str, int] = field(default_factory=dict)
    elsewhere: Sequence[str] = ()


@dataclass(frozen=True, slots=True)
class FigureNote:
    """A note of a place: spelling, degree in its chord, how it stands to it, and the chord where it is a new one."""

    note: str
    degree: str
    kind: str
    chord: str


@dataclass(frozen=True, slots=True)
class FigurePlace:
    """Where a figure stands in the line: notes ``first`` to ``last``, in words, and what differs there."""

    label: str
    first: int
    last: int
    where: str
    transposed: str
    changes: tuple[str, ...]
    notes: tuple[FigureNote, ...]


@dataclass(frozen=True, slots=True)
class LessonFigure:
    """A figure of the page: its letter, its number (for colour and line), its places, and what is told of it.

    ``family`` is its index among the families handed in.
    """

    letter: str
    kind: int
    family: int
    notes: str
    places: tuple[FigurePlace, ...]
    labels: tuple[str, ...]
    contexts: tuple[str, ...]
    spread: str
    variants: str
    elsewhere: tuple[str, ...]


def figures_of(
    line: Transcription,
    analysis: Analysis,
    roles: Sequence[NoteRole | None],
    families: Sequence[FoundFamily],
    bars: range,
) -> list[LessonFigure]:
    """The families that stand wholly in the bars shown (indexes), in the order of their first places."""
    here: list[tuple[int, list[Occurrence]]] = []
    for index, family in enumerate(families):
        inside = [o for o in family.occurrences if _is_inside(line, o, bars)]
        if inside:
            here.append((index, sorted(inside, key=lambda o: o.first)))
    here.sort(key=lambda found: found[1][0].first)
    return [
        _figure(line, analysis, roles, families[index], occurrences, (number, index))
        for number, (index, occurrences) in enumerate(here)
    ]


def _is_inside(line: Transcription, occurrence: Occurrence, bars: range) -> bool:
    return line.notes[occurrence.first].bar_index in bars and line.notes[occurrence.last].bar_index in bars


def _figure(
    line: Transcription,
    analysis: Analysis,
    roles: Sequence[NoteRole | None],
    family: FoundFamily,
    occurrences: Sequence[Occurrence],
    numbers: tuple[int, int],
) -> LessonFigure:
    letter = letter_of(numbers[0])
    variants: dict[tuple[str, ...], str] = {}
    places = []
    for occurrence in occurrences:
        label = letter + _prime(variants, disguises_of(occurrence))
        bar, section = line.bar_of(occurrence.first), line.section_at(line.notes[occurrence.first].onset_ticks)
        where = f"bar {bar_name(bar)}, beat {float(line.beat_of(occurrence.first)):.4g}"
        places.append(
            FigurePlace(
                label,
                occurrence.first,
                occurrence.last,
                where + (f", section {section.label}" if section else ""),
                "" if not occurrence.transposed else transposition_name(occurrence.transposed),
                tuple(with_signs(change.words) for change in occurrence.changes if change.words),
                figure_notes(line, analysis, roles, occurrence),
            )
        )
    return LessonFigure(
        letter,
        *numbers,
        with_signs(" ".join(note or "x" for note in family.notes)),
        tuple(places),
        tuple(map(with_signs, family.labels)),
        tuple(map(with_signs, family.contexts)),
        _spread(family),
        ", ".join(f"{kind} {count}" for kind, count in dict(family.disguises).items()),
        tuple(map(with_signs, family.elsewhere)),
    )


def _prime(variants: dict[tuple[str, ...], str], disguises: Sequence[str]) -> str:
    changed = tuple(disguise for disguise in disguises if disguise not in _SAME_NOTES)
    if not changed:
        return ""
    return variants.setdefault(changed, PRIMES[min(len(variants) + 1, len(PRIMES) - 1)])


def figure_notes(
    line: Transcription, analysis: Analysis, roles: Sequence[NoteRole | None], occurrence: Occurrence
) -> tuple[FigureNote, ...]:
    """The notes of a place, each against its chord."""
    found = []
    chord = None
    for index in range(occurrence.first, occurrence.last + 1):
        note, role = line.notes[index], roles[index]
        span = analysis.span_at(note.onset_ticks)
        symbol = "" if span is None or span == chord else with_signs(span.symbol_text)
        chord = span
        found.append(
            FigureNote(
                with_signs(note.spelling) or "x",
                with_signs(role.degree) if role else "–",
                role.kind if role else "",
                symbol,
            )
        )
    return tuple(found)


def degrees_below(first: int, notes: Sequence[FigureNote]) -> dict[int, str]:
    """Degrees to stand below the notes of a place that begins on note ``first``; outside notes in square brackets.

    A note that is struck again bears none: there is room for it, and little to say.
    """
    brackets = {"scale tone": "({})", "outside": "[{}]"}
    texts: dict[int, str] = {}
    before = None
    for offset, note in enumerate(notes):
        told = (note.note, note.degree)
        if note.kind and told != before:
            texts[first + offset] = brackets.get(note.kind, "{}").format(note.degree)
        before = told
    return texts


def _spread(family: FoundFamily) -> str:
    words = f"{_some(family.count, 'place')} in {_some(family.tunes, 'tune')}"
    return words + (f" by {_some(family.players, 'player')}" if family.players else "")


def _some(count: int, thing: str) -> str:
    return f"{count:,} {thing}{'' if count == 1 else 's'}"
