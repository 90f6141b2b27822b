"""A comparison in plain sentences, each with the figures it rests on and bars to look at.

Sentences are made of clear differences only, the largest effects first, at most two of one group of figures, and never
more than ``MOST``. The bars are those of the side that does the thing more often, from its line with most of them.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from corpus.pitch import default_spelling
from corpus.profile.columns import Columns
from corpus.profile.compare import Comparison, Difference
from corpus.profile.profile import Profile
from corpus.profile.samples import Measure, Sample

MOST: Final = 5
MOST_BARS: Final = 4
_A_GROUP: Final = 2
PLAINER: Final = 0.2
"""From this mean effect on one line is called the plainer one."""

_PHRASES: Final = {
    "roots.all": "plays the root on {} of all notes",
    "roots.first_beats": "plays the root on {} of first beats",
    "roots.chord_changes": "plays the root on {} of chord changes",
    "degrees.first_beats.3": "plays the third on {} of first beats",
    "degrees.first_beats.5": "plays the fifth on {} of first beats",
    "degrees.first_beats.6_7": "plays a sixth or seventh on {} of first beats",
    "degrees.first_beats.tensions": "begins {} of bars on a note that is none of the chord's own",
    "kinds.all_notes.chord": "uses chord tones for {} of notes",
    "kinds.all_notes.scale": "uses scale tones for {} of notes",
    "kinds.all_notes.outside": "puts {} of notes outside chord and scale",
    "entered.enclosure": "enters {} of chords by an enclosure",
    "entered.half_step_below": "enters {} of chords from a half-step below",
    "entered.half_step_above": "enters {} of chords from a half-step above",
    "entered.step_below": "enters {} of chords from a whole step below",
    "entered.step_above": "enters {} of chords from a whole step above",
    "entered.fifth": "enters {} of chords from the fifth of the note reached",
    "entered.leap": "enters {} of chords by a leap that is no fifth",
    "entered.same": "enters {} of chords on the note that was there",
    "intervals.repeated": "repeats {} of notes",
    "intervals.half_step": "moves by half-step in {} of intervals",
    "intervals.step": "moves by whole step in {} of intervals",
    "intervals.third": "moves by thirds in {} of intervals",
    "intervals.fourth": "moves by fourths in {} of intervals",
    "intervals.fifth": "moves by fifths in {} of intervals",
    "intervals.size": "moves {} semitones at a time on average",
    "contour.turns": "changes direction on {} of moves",
    "leaps.recovered": "follows {} of leaps with a step back",
    "leaps.again": "follows {} of leaps with another leap",
    "rhythm.quarters": "plays {} of notes as quarters",
    "rhythm.eighths": "plays {} of notes as eighths",
    "rhythm.off_beat": "starts {} of notes off the beat",
    "rhythm.skips": "puts in skips for {} of notes",
    "rhythm.triplets": "plays {} of notes as triplets",
    "rhythm.doubled": "doubles {} of notes",
    "rhythm.notes_a_bar": "plays {} notes in a bar",
    "register.pitch": "lies around {} on average",
    "scales.arpeggio": "keeps to the chord's own tones over chords that hold {} of notes",
}


@dataclass(frozen=True, slots=True)
class Sentence:
    """A sentence, and what it rests on: the figure's key, and the bars named (line from 0, written bar, pass)."""

    text: str
    key: str
    bars: tuple[tuple[int, int, int], ...]


@dataclass(frozen=True)
class Side:
    """One side of a comparison: what it is called, its profile, and what each of its lines is called."""

    name: str
    profile: Profile
    line_names: Sequence[str]


def sentences(first: Side, second: Side, comparison: Comparison) -> list[Sentence]:
    """Three to five sentences where so many figures differ clearly, else what there is to say."""
    found = _plainer(first, second, comparison)
    groups: Counter[str] = Counter()
    told = {sentence.key for sentence in found}
    for difference in comparison.clear:
        if len(found) == MOST:
            break
        group = difference.first.group
        if not _phrase(difference.first) or difference.key in told or groups[group] == _A_GROUP:
            continue
        groups[group] += 1
        found.append(_sentence(first, second, difference))
    if not found:
        counts = f"{first.profile.note_count:,} and {second.profile.note_count:,} notes"
        text = f"No figure differs by more than chance would explain, with {counts} to judge by."
        return [Sentence(text, "", ())]
    return found


def value_words(measure: Measure, value: float | None) -> str:
    """A figure's value for people: per cent, a note name for a mean pitch, else a plain number."""
    if value is None:
        return "-"
    if measure.unit == "share":
        return f"{100 * value:.0f} %"
    return default_spelling(round(value)) if measure.unit == "pitch" else f"{value:.1f}"


def _plainer(first: Side, second: Side, comparison: Comparison) -> list[Sentence]:
    """Which line is plainer, where the figures about roots and chord tones say so."""
    mean = comparison.plainness
    roots = next((d for d in comparison.differences if d.key == "roots.all"), None)
    if mean is None or roots is None or abs(mean) < PLAINER:
        return []
    plain, other, (high, low) = (
        (first, second, (roots.first, roots.second)) if mean > 0 else (second, first, (roots.second, roots.first))
    )
    text = (
        f"{_capital(plain.name)} is the plainer of the two: {value_words(high, high.value)} of all notes are roots, "
        f"against {value_words(low, low.value)} ({other.name}); a line with few roots is heard as more melodic."
    )
    return [Sentence(text, "roots.all", ())]


def _phrase(measure: Measure) -> str:
    """What a side does, with a gap for the figure; empty for figures that make no sentence."""
    if measure.group in ("shapes", "repetition"):
        return f"spends {{}} of {measure.words}"
    return _PHRASES.get(measure.key, "")


def _sentence(first: Side, second: Side, difference: Difference) -> Sentence:
    phrase = _phrase(difference.first)
    one, two = (value_words(m, m.value) for m in (difference.first, difference.second))
    does = difference.difference > 0
    side, sample = (first, difference.first_sample) if does else (second, difference.second_sample)
    bars = evidence(side.profile.columns, sample)
    where = _bars_text(side, bars, f" of {side.name}" if not does else "")
    text = f"{_capital(first.name)} {phrase.format(one)}; {second.name} {two}{where}."
    return Sentence(text, difference.key, tuple(bars))


def evidence(columns: Columns, sample: Sample) -> list[tuple[int, int, int]]:
    """Bars in which a sample is true (for a mean: where it is largest), of the line that has most of them.

    Line, written bar and pass, in order.
    """
    import numpy as np

    hits = sample.notes[sample.values >= (1 if sample.unit == "share" else np.quantile(sample.values, 0.9))]
    if not len(hits):
        return []
    line = Counter(columns.line[hits].tolist()).most_common(1)[0][0]
    bars = np.unique(columns.bar[hits[columns.line[hits] == line]])
    # Bars with several such notes show it best.
    counts = Counter(columns.bar[hits].tolist())
    best = sorted(sorted(bars.tolist(), key=lambda bar: (-counts[bar], bar))[:MOST_BARS])
    return [(int(line), int(columns.bar_number[bar]), int(columns.bar_pass[bar])) for bar in best]


def _bars_text(side: Side, bars: Iterable[tuple[int, int, int]], of: str) -> str:
    places = [f"{bar}~{again}" if again > 1 else str(bar) for _, bar, again in bars]
    if not places:
        return ""
    line = next(iter(bars))[0]
    many = len(side.line_names) > 1
    where = f" of {side.line_names[line]}" if many else of
    return f": see bar{'s' if len(places) > 1 else ''} {', '.join(places)}{where}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
