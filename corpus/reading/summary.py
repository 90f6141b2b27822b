"""The summary of a chorus: a few sentences, each resting on figures of its profile."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from corpus.harmony.implied import Implied
from corpus.model import Transcription
from corpus.pitch import default_spelling
from corpus.profile.profile import Profile
from corpus.profile.samples import Measure
from corpus.reading.figures import NamedFigure
from corpus.shapes import Kind

PLURALS: Final[Mapping[Kind, str]] = {
    "interval cycle": "interval cycles",
    "doubled notes": "passages of doubled notes",
    "arpeggio": "arpeggios",
    "scale run": "scale runs",
    "chromatic run": "chromatic runs",
    "enclosure": "enclosures",
    "pedal": "pedals",
    "root-only stretch": "root-only stretches",
    "5-1 cadence": "5-1 cadences",
    "sequence": "sequences",
    "call an octave higher": "calls an octave higher",
}
"""What several shapes of a kind are called."""
_SINGULARS: Final[Mapping[Kind, str]] = {
    "doubled notes": "passage of doubled notes",
    "call an octave higher": "call and its answer an octave higher",
}


@dataclass(frozen=True, slots=True)
class Summed:
    """A sentence of the summary, the figures behind it, and the written bars that it names."""

    text: str
    why: str
    bars: tuple[int, ...] = ()


def summary_of(
    line: Transcription,
    profile: Profile,
    implied: Sequence[Implied],
    shapes: Mapping[Kind, int],
    recurring: Sequence[NamedFigure] = (),
) -> list[Summed]:
    """The sentences that can be said of a chorus, in a fixed order."""
    figures = {measure.key: measure for measure in profile.measures}
    return [
        *_roots(figures),
        *_register(line, profile),
        *_rhythm(figures),
        *_implied(line, implied),
        *_shapes(shapes),
        *_recurring(line, profile, recurring),
    ]


def _why(*measures: Measure) -> str:
    return "; ".join(
        f"{m.words} {m.count} of {m.n}, 95 % {100 * (m.low or 0):.0f} to {100 * (m.high or 0):.0f} %" for m in measures
    )


def _roots(figures: Mapping[str, Measure]) -> Iterator[Summed]:
    first, every = figures["roots.first_beats"], figures["roots.all"]
    outside = figures["kinds.all_notes.outside"]
    is_outside = outside.value is not None and outside.value > 1 / 2
    if first.n >= 4 and first.value is not None and every.value is not None:
        how = "rarely" if first.value < 1 / 3 else "mostly" if first.value > 2 / 3 else "about half the time"
        text = (
            f"First beats sit {how} on the root: {first.count} of {first.n}; "
            f"of all notes {100 * every.value:.0f} % are roots."
        )
        if first.value < 1 / 3 and not is_outside:
            text += " That is heard as melodic."
        yield Summed(text, _why(first, every))
    if outside.n >= 8 and outside.value is not None:
        yield Summed(f"{100 * outside.value:.0f} % of the notes lie outside chord and scale.", _why(outside))


def _register(line: Transcription, profile: Profile) -> Iterator[Summed]:
    register = profile.register
    if register.n < 8 or register.highest_note is None or register.lowest_note is None:
        return
    high, low = (line.bar_of(index).number for index in (register.highest_note, register.lowest_note))
    names = [line.notes[index].spelling for index in (register.lowest_note, register.highest_note)]
    middle = [default_spelling(pitch or 0) for pitch in (register.tessitura_low, register.tessitura_high)]
    text = (
        f"It ranges from {names[0]} (bar {low}) to {names[1]} (bar {high}), mostly between {middle[0]} and {middle[1]}."
    )
    yield Summed(text, f"{register.n} notes; 10th to 90th percentile {middle[0]} to {middle[1]}", (low, high))


def _rhythm(figures: Mapping[str, Measure]) -> Iterator[Summed]:
    quarters = figures["rhythm.quarters"]
    if quarters.n < 8 or quarters.value is None:
        return
    events = [
        f"{count} {word if count == 1 else words}"
        for key, word, words in (
            ("rhythm.skips", "skip", "skips"),
            ("rhythm.triplets", "triplet note", "triplet notes"),
            ("rhythm.doubled", "doubled note", "doubled notes"),
            ("rhythm.pushes", "push", "pushes"),
            ("rhythm.dead", "dead note", "dead notes"),
        )
        if (count := figures[key].count)
    ]
    text = f"{100 * quarters.value:.0f} % of the notes are quarters"
    yield Summed(f"{text}; {_listed(events)}." if events else f"{text}.", _why(quarters))


def _implied(line: Transcription, implied: Sequence[Implied]) -> Iterator[Summed]:
    for relation, words in (
        ("stays on the ii", "The ii is kept over the V in"),
        ("superimposes", "A triad is laid over the chord in"),
        ("leans to IV", "A b7 leans to the IV in"),
        ("anticipates", "The next chord comes early in"),
        ("delays", "The chord before is held on in"),
    ):
        bars = [line.bar_of(stretch.first).number for stretch in implied if stretch.relation == relation]
        if bars:
            listed = _listed([str(bar) for bar in dict.fromkeys(bars)])
            text = f"{words} bar{'s' if len(set(bars)) > 1 else ''} {listed}."
            yield Summed(text, f"implied harmony: {relation}, {len(bars)} of {len(implied)} stretches", tuple(bars))


def _shapes(shapes: Mapping[Kind, int]) -> Iterator[Summed]:
    if shapes:
        ordered = sorted(shapes.items(), key=lambda item: (-item[1], item[0]))
        parts = [f"{count} {_SINGULARS.get(kind, kind) if count == 1 else PLURALS[kind]}" for kind, count in ordered]
        yield Summed(f"Named shapes: {_listed(parts)}.", "shapes that begin in the chorus")


def _listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _recurring(line: Transcription, profile: Profile, recurring: Sequence[NamedFigure]) -> Iterator[Summed]:
    """How much of the chorus stands in recurring figures, and which come most often in it."""
    import numpy as np

    chorus = set(np.flatnonzero(profile.columns.inside).tolist())
    counts = [(figure, sum(place.first in chorus for place in figure.places)) for figure in recurring]
    covered = {
        note for figure, _ in counts for place in figure.places for note in range(place.first, place.last + 1)
    } & chorus
    if not covered:
        return
    here = [(figure.letter, count) for figure, count in counts if count]
    most = sorted(here, key=lambda item: -item[1])[:3]
    shown = [
        f"{name} ({'once' if count == 1 else 'twice' if count == 2 else f'{count} times'})" for name, count in most
    ]
    share = round(100 * len(covered) / len(chorus))
    if not shown:
        return
    if len(here) > len(most):
        shown.append(f"{len(here) - len(most)} more")
    text = f"{share} % of the notes stand in recurring figures: {_listed(shown)}."
    yield Summed(
        text, f"{len(covered)} of {len(chorus)} notes; codes {' '.join(figure.code for figure, n in counts if n)}"
    )
