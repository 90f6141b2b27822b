"""The rules: what a teacher would point at, each from one kind of finding.

What is worth saying is common practice, no source; every rule names its condition in its docstring.
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final

from corpus.harmony.implied import Implied
from corpus.harmony.roles import NoteRole
from corpus.harmony.spans import HarmonySpan
from corpus.model import Bar, Transcription
from corpus.pitch import interval_name
from corpus.profile.samples import Sample
from corpus.reading.remarks import WEIGHTS, Remark, names, remark_at
from corpus.shapes import Shape

_HEAVY_SHAPES: Final = {
    "call an octave higher": 3.0,
    "sequence": 2.0,
    "interval cycle": 2.0,
    "pedal": 2.0,
    "doubled notes": 1.0,
    "root-only stretch": 0.5,
    "chromatic run": 0.0,
    "scale run": 0.0,
    "enclosure": -0.5,
    "arpeggio": -1.5,
    "5-1 cadence": -2.5,
}
"""What a shape weighs more or less than others: arpeggios of the written chord and plain cadences are everyday."""
_MOVES: Final = {
    "stays on the ii": "ignores the {written} and stays on the ii: {symbol}",
    "leans to IV": "the b7 over {written} makes it {symbol}{rootless} and leans to {detail}",
    "anticipates": "spells the next chord, {symbol}, ahead of time over {written}",
    "delays": "holds on to the chord before, {symbol}, over {written}",
    "superimposes": "{detail}",
}


def implied_remarks(line: Transcription, implied: Sequence[Implied]) -> Iterator[Remark]:
    """Every reading of a chord other than agreement, and cadences 5-1 without the dominant."""
    for stretch in implied:
        if stretch.relation in _MOVES and stretch.symbol is not None and stretch.note_count:
            text = _MOVES[stretch.relation].format(
                written=stretch.written,
                symbol=stretch.symbol,
                detail=stretch.detail,
                rootless=" (without its root)" if stretch.is_rootless else "",
            )
            why = (
                f"{names(line, stretch.first, stretch.last)} over {stretch.written}: "
                f"{_times(stretch.favour)} as likely under {stretch.symbol}"
            )
            yield remark_at(line, "implied", (stretch.first, stretch.last), text, why)
        if stretch.cadence is not None:
            notes = (stretch.last, stretch.last + 1)
            text = f"{names(line, *notes)} is a cadence 5-1 into {stretch.cadence}, without its dominant"
            why = f"the last note over {stretch.written} is the 5 of {stretch.cadence}, the next one its root"
            yield remark_at(line, "cadence", notes, text, why)


def _times(favour: float) -> str:
    return "more than 1,000 times" if favour > 1000 else f"{favour:.0f} times"


def shape_remarks(line: Transcription, shapes: Sequence[Shape], implied: Sequence[Implied]) -> Iterator[Remark]:
    """Shapes in their own words; an arpeggio is left out where the same triad is told as laid over the chord."""
    laid_over = [(i.first, i.last) for i in implied if i.relation == "superimposes"]
    for shape in shapes:
        if shape.kind == "arpeggio" and any(first <= shape.last and shape.first <= last for first, last in laid_over):
            continue
        is_foreign = shape.kind == "arpeggio" and " over " in shape.words
        why = f"{shape.kind}: {names(line, shape.first, shape.last)}"
        weight = _HEAVY_SHAPES[shape.kind] + (2.0 if is_foreign else 0.0)
        yield remark_at(line, "shape", (shape.first, shape.last), shape.words, why, weight)


def register_remarks(line: Transcription, chorus_notes: Sequence[int]) -> Iterator[Remark]:
    """The highest and the lowest note of the chorus, and leaps wider than an octave."""
    sounding = [(line.notes[i].pitch or 0, i) for i in chorus_notes if line.notes[i].pitch is not None]
    if len(sounding) < 8:
        return
    # The first of several.
    high, top = max(sounding, key=lambda item: (item[0], -item[1]))
    low, bottom = min(sounding)
    times = {pitch: sum(other == pitch for other, _ in sounding) for pitch in (high, low)}
    for word, pitch, index in (("highest", high, top), ("lowest", low, bottom)):
        again = f", {times[pitch]} times in all" if times[pitch] > 1 else ""
        text = f"{line.notes[index].spelling}, the {word} note of the chorus{again}"
        yield remark_at(line, "register", (index, index), text, f"the {word} of {len(sounding)} notes", 0.5)
    for (before, _), (pitch, index) in pairwise(sounding):
        if abs(pitch - before) > 12 and line.notes[index - 1].pitch == before:
            way = "up" if pitch > before else "down"
            text = f"leaps {way} {interval_name(pitch - before)}, {names(line, index - 1, index)}"
            yield remark_at(line, "register", (index - 1, index), text, f"{abs(pitch - before)} semitones", 1.0)


def first_beat_remarks(
    line: Transcription, roles: Sequence[NoteRole | None], chorus_notes: Sequence[int]
) -> Iterator[Remark]:
    """First beats that carry a note outside the chord; the degree is told where it is a tension or an outside note."""
    for index in chorus_notes:
        role = roles[index]
        if role is None or line.beat_of(index) != 1 or role.kind == "chord tone":
            continue
        chord = line.chord_at(line.notes[index].onset_ticks)
        assert chord is not None
        what = "a tension" if role.kind == "scale tone" else "outside the scale"
        text = f"begins on {line.notes[index].spelling}, the {role.degree} of {chord.symbol}, {what}"
        why = f"role on beat 1: {role.degree}, {role.kind}"
        yield remark_at(line, "first beat", (index, index), text, why, 1.0 if role.kind == "outside" else 0.0)


def rhythm_remarks(
    line: Transcription, roles: Sequence[NoteRole | None], rhythm: Sequence[Sample], chorus_notes: Sequence[int]
) -> Iterator[Remark]:
    """Skips, triplets and dead notes, as ``corpus.profile.rhythm`` counts them, and pushes into the next chord.

    A skip on a dead note is told once.
    """
    chosen = set(chorus_notes)
    skips = {int(n) for s in rhythm if s.key == "rhythm.skips" for n, v in zip(s.notes, s.values, strict=True) if v}
    for sample in rhythm:
        words = _EVENTS.get(sample.key)
        if words is None:
            continue
        seen: set[int] = set()
        for index in (int(note) for note, value in zip(sample.notes, sample.values, strict=True) if value):
            bar = line.notes[index].bar_index
            if sample.key == "rhythm.dead" and index in skips:
                continue
            if index in chosen and bar not in seen:
                seen.add(bar)
                beat = float(line.beat_of(index))
                text = words.format(beat=f"{beat:.4g}", beat_before=int(beat))
                text += ", on a dead note" if sample.key == "rhythm.skips" and line.notes[index].is_dead else ""
                yield remark_at(line, "rhythm", (index, index), text, f"{sample.words}: a note on beat {beat:.4g}")
    for index in chorus_notes:
        role = roles[index]
        if role is not None and role.movement == "anticipation":
            beat = float(line.beat_of(index))
            text = f"{line.notes[index].spelling} on beat {beat:.4g} already belongs to the next chord: a push"
            yield remark_at(line, "rhythm", (index, index), text, "movement: anticipation", 0.5)


_EVENTS: Final = {
    "rhythm.skips": "a skip after beat {beat_before}",
    "rhythm.triplets": "a triplet on beat {beat_before}",
    "rhythm.dead": "a dead note on beat {beat}",
}


def approach_remarks(
    line: Transcription, roles: Sequence[NoteRole | None], spans: Sequence[HarmonySpan], chorus_notes: Sequence[int]
) -> Iterator[Remark]:
    """Chord changes that are reached by a half-step or a double approach, with the degree that is reached; and first
    beats of a chord that goes on where the note before was outside.
    """
    changes = {b.onset_ticks for a, b in pairwise(spans) if a.symbol_text != b.symbol_text}
    for index in chorus_notes:
        role, target = roles[index], roles[index + 1] if index + 1 < len(roles) else None
        if role is None or target is None:
            continue
        is_change = line.notes[index + 1].onset_ticks in changes
        is_double = role.movement == "double approach"
        is_told = is_double or role.movement in ("half-step below", "half-step above")
        is_outside_into_one = role.kind == "outside" and line.beat_of(index + 1) == 1
        if not is_told or not (is_change or is_outside_into_one):
            continue
        chord = line.chord_at(line.notes[index + 1].onset_ticks)
        assert chord is not None
        how = "by a double approach" if is_double else f"from a {role.movement}"
        goal = f"{line.notes[index + 1].spelling}, the {target.degree} of {chord.symbol}"
        why = f"movement: {role.movement}, {names(line, index, index + 1)}"
        is_everyday = target.degree == "1" or target.kind != "chord tone"
        yield remark_at(line, "approach", (index, index + 1), f"leads {how} to {goal}", why, is_everyday=is_everyday)


def rest_remarks(line: Transcription, bars: Sequence[Bar]) -> Iterator[Remark]:
    """Bars in which nothing sounds, between the first and the last note of the line; a row of them is told once."""
    if not line.notes:
        return
    sounding = set()
    for note in line.notes:
        sounding.add(note.bar_index)
        at = note.bar_index + 1
        while at < len(line.bars) and line.bars[at].onset_ticks < note.end_ticks:
            sounding.add(at)
            at += 1
    numbers = {bar: index for index, bar in enumerate(line.bars)}
    silent = [numbers[bar] for bar in bars if numbers[bar] not in sounding]
    for index in silent:
        if index - 1 in silent or not line.notes[0].bar_index < index < line.notes[-1].bar_index:
            continue
        count = 1
        while index + count in silent:
            count += 1
        following = next(i for i, note in enumerate(line.notes) if note.bar_index > index)
        chord = line.chord_at(line.bars[index].onset_ticks)
        over = f" over {chord.symbol}" if chord is not None and count == 1 else ""
        text = f"a whole bar of rest{over}" if count == 1 else f"{count} bars of rest"
        why = f"no note sounds from bar {line.bars[index].number} to bar {line.bars[index + count - 1].number}"
        yield Remark("rhythm", index, following, following, text, why, WEIGHTS["rhythm"] + 1.0)


def plain_remarks(
    line: Transcription, roles: Sequence[NoteRole | None], chorus_notes: Sequence[int]
) -> Iterator[Remark]:
    """Bars that open with one note struck twice on the beats: a plain way to begin, told where nothing else is."""
    for index in chorus_notes:
        role = roles[index]
        after = line.notes[index + 1] if index + 1 < len(line.notes) else None
        if role is None or after is None or line.beat_of(index) != 1 or line.beat_of(index + 1) != 2:
            continue
        if after.bar_index != line.notes[index].bar_index or after.pitch != line.notes[index].pitch:
            continue
        chord = line.chord_at(line.notes[index].onset_ticks)
        assert chord is not None
        text = f"strikes {line.notes[index].spelling}, the {role.degree} of {chord.symbol}, twice"
        yield remark_at(line, "plain", (index, index + 1), text, f"one pitch on beats 1 and 2, role {role.degree}")
