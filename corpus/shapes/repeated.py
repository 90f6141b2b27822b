"""What is said again: doubled notes, sequences, a call repeated an octave higher."""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final

from corpus.pitch import interval_name
from corpus.shapes.shape import Shape
from corpus.shapes.strokes import NO_METER, Ready, Stroke

FEWEST_DOUBLED: Final = 3
_LONGEST_CELL: Final = 8
_FEWEST_TIMES: Final = {2: 3, 3: 3}
_FEWEST_NOTES_OF_A_CALL: Final = 3
_LONGEST_CALL: Final = 16

Movement = tuple[int, int, int]
"""From one note to the next: ticks, semitones, letters."""


def doubled_notes(line: Ready) -> Iterator[Shape]:
    """Three pitches and more in a row that are each struck twice (or four times: a doubled repeat)."""
    for phrase in line.phrases:
        start = 0
        for index in range(len(phrase) + 1):
            if index < len(phrase) and phrase[index].strikes in (2, 4):
                continue
            run = phrase[start:index]
            if sum(stroke.strikes == 2 for stroke in run) >= FEWEST_DOUBLED:
                yield _doubled(phrase, start, index)
            start = index + 1


def _doubled(phrase: Sequence[Stroke], start: int, end: int) -> Shape:
    """Strokes ``start`` up to ``end``; of a pitch around them that is struck more often two strikes belong to them."""
    first, last = phrase[start].first, phrase[end - 1].last
    if start > 0 and phrase[start - 1].strikes > 2:
        start, first = start - 1, first - 2
    if end < len(phrase) and phrase[end].strikes > 2:
        end, last = end + 1, last + 2
    run = phrase[start:end]
    names = " ".join(str(stroke.name) for stroke in run)
    words = f"doubled notes: {names if len(run) <= 8 else f'{len(run)} pitches'}"
    return Shape("doubled notes", first, last, words, {"pitches": len(run)})


def sequences(line: Ready) -> Iterator[Shape]:
    """Cells of two to eight notes that are repeated at once on other degrees, in the same rhythm."""
    for phrase in line.phrases:
        found: list[tuple[int, int]] = []
        moves = [
            (b.onset_ticks - a.onset_ticks, b.pitch - a.pitch, b.position - a.position) for a, b in pairwise(phrase)
        ]
        for cell in range(2, min(_LONGEST_CELL, len(phrase) // 2) + 1):
            for start, end in stretches_alike(moves, cell):
                times = (end - start) // cell
                # Of several ways to cut it, the one that begins on the strongest beat.
                cuts = range(start, end - times * cell + 1)
                start = max(cuts, key=lambda cut: (phrase[cut].strength, -cut))
                end = start + times * cell
                inside = any(low <= start and end <= high for low, high in found)
                if times < _FEWEST_TIMES.get(cell, 2) or (times == 2 and not _both_strong(phrase, start, cell)):
                    continue
                if not inside and _is_sequence(phrase[start:end], cell):
                    found.append((start, end))
                    yield _sequence(phrase[start:end], cell, times)


def _both_strong(phrase: Sequence[Stroke], start: int, cell: int) -> bool:
    """Whether both of two cells begin on strong beats, as far as beats are known: else four notes fit by chance."""
    return all(phrase[index].strength in (NO_METER, 2, 3) for index in (start, start + cell))


def stretches_alike(moves: Sequence[Movement], cell: int) -> Iterator[tuple[int, int]]:
    """Longest stretches of notes in which every movement comes back after ``cell`` notes, at least in two cells.

    Two movements are the same when they take the same time and are the same by semitones, or by letters and nearly so.
    """
    same = [
        time == other_time
        and (leap == other or (letters == others and (leap > 0) == (other > 0) and -1 <= leap - other <= 1))
        for (time, leap, letters), (other_time, other, others) in zip(moves, moves[cell:], strict=False)
    ]
    for start, end in _runs(same, cell - 1):
        yield start, end + cell + 1


def _runs(marks: Sequence[bool], least: int) -> Iterator[tuple[int, int]]:
    """Where so many marks in a row and more begin and end (the place after the last one)."""
    marked, sought = bytes(marks), b"\1" * least
    start = marked.find(sought)
    while start >= 0:
        end = marked.find(b"\0", start)
        end = len(marked) if end < 0 else end
        yield start, end
        start = marked.find(sought, end)


def _is_sequence(strokes: Sequence[Stroke], cell: int) -> bool:
    """Whether the cells stand on different degrees, and the whole is no run."""
    moves = [after.position - before.position for before, after in pairwise(strokes)]
    leaps = [after.pitch - before.pitch for before, after in pairwise(strokes)]
    is_run = len(set(moves)) == 1 or len({leap % 12 for leap in leaps}) == 1
    is_run |= all(1 <= leap <= 2 for leap in leaps) or all(-2 <= leap <= -1 for leap in leaps)
    return not is_run and (strokes[cell].pitch - strokes[0].pitch) % 12 != 0


def _sequence(strokes: Sequence[Stroke], cell: int, times: int) -> Shape:
    starts = strokes[::cell][:times]
    steps = [after.position - before.position for before, after in pairwise(starts)]
    leaps = [after.pitch - before.pitch for before, after in pairwise(starts)]
    words = f"sequence: {cell} notes, {times} times"
    if len(set(steps)) == 1 or len(set(leaps)) == 1:
        way = "higher" if leaps[0] > 0 else "lower"
        words += f", {_by(steps, leaps)} {way}{' each time' if times > 2 else ''}"
    return Shape(
        "sequence",
        strokes[0].first,
        strokes[-1].last,
        words,
        {"cell": cell, "times": times, "letters": steps, "semitones": leaps},
    )


_STEPS: Final = ("", "a step", "a third", "a fourth", "a fifth", "a sixth", "a seventh")


def _by(steps: Sequence[int], leaps: Sequence[int]) -> str:
    """How far it moves: by letters where these agree, else by semitones."""
    octaves, rest = divmod(abs(steps[0]), 7)
    if all(abs(leap) == 1 for leap in leaps):
        return "a half-step"
    if len(set(steps)) > 1 or octaves or not rest:
        name = interval_name(leaps[0])
        return name if name.startswith(("an ", "two ", "three ")) else f"a {name}"
    return _STEPS[rest]


def octave_calls(line: Ready) -> Iterator[Shape]:
    """Three to sixteen notes, of at least three pitches, that come again at once an octave higher."""
    for passage in line.passages:
        pitches = [stroke.pitch for stroke in passage]
        places: dict[tuple[int, ...], list[int]] = {}
        for place, three in enumerate(zip(pitches, pitches[1:], pitches[2:], strict=False)):
            places.setdefault(three, []).append(place)
        # Only where three notes in a row come again an octave higher a call is worth looking for.
        later = {
            after - before
            for (a, b, c), earlier in places.items()
            for after in places.get((a + 12, b + 12, c + 12), ())
            for before in earlier
        }
        for call in range(min(_LONGEST_CALL, len(passage) // 2), _FEWEST_NOTES_OF_A_CALL - 1, -1):
            if call not in later:
                continue
            higher = [after - before == 12 for before, after in zip(pitches, pitches[call:], strict=False)]
            for start, end in _runs(higher, call):
                for first in range(start, end - call + 1, call):
                    both = passage[first : first + 2 * call]
                    if len({stroke.pitch for stroke in both[:call]}) >= _FEWEST_NOTES_OF_A_CALL:
                        yield _call(both, call)


def _call(strokes: Sequence[Stroke], call: int) -> Shape:
    words = f"call of {call} notes repeated an octave higher"
    return Shape("call an octave higher", strokes[0].first, strokes[-1].last, words, {"call": call})
