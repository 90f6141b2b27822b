"""From blocks to one transcription, so that every writer of lines writes sheets too."""

from collections.abc import Iterator, Sequence

from corpus.errors import QueryError
from corpus.model import Bar, ChordSpan, Details, Note, Section, Transcription
from corpus.pitch import SpelledPitch, default_spelling
from corpus.sheet.blocks import Block, Statement
from corpus.sheet.octaves import smallest_jumps
from corpus.sheet.ranges import Range


def assemble(blocks: Sequence[Block], within: Range, details: Details) -> Transcription:
    """The sheet: the blocks one after the other, every statement in the octave of the smallest jumps.

    Raises QueryError for a figure that fits the range in no octave, and when there is nothing to play.
    """
    statements = [(block, statement) for block in blocks for statement in block.statements]
    if not statements:
        raise QueryError("there is nothing to play: the figure fits nowhere here")
    shifts = smallest_jumps([statement.pitches for _, statement in statements], within.low, within.high)
    if shifts is None:
        raise _too_wide(statements, within)
    bars = tuple(_laid(blocks))
    at = iter(shifts)
    notes: list[Note] = []
    start = first_bar = 0
    for block in blocks:
        onsets = [bar.onset_ticks for bar in bars[first_bar : first_bar + len(block.bars)]]
        for statement in block.statements:
            shift = next(at)
            for onset, length, pitch in statement.notes:
                index = first_bar + sum(one <= start + onset for one in onsets) - 1
                notes.append(_note(start + onset, length, pitch, shift, index))
        first_bar += len(block.bars)
        start += sum(bar.meter.bar_ticks for bar in block.bars)
    return Transcription(details, tuple(notes), bars, tuple(_chords(blocks, start)), tuple(_sections(blocks, start)))


def _too_wide(statements: Sequence[tuple[Block, Statement]], within: Range) -> QueryError:
    for block, statement in statements:
        pitches = statement.pitches
        if smallest_jumps([pitches], within.low, within.high) is None:
            low, high = default_spelling(within.low), default_spelling(within.high)
            where = f" in {block.label}" if block.label else ""
            words = f"the figure spans {max(pitches) - min(pitches)} semitones{where}"
            return QueryError(
                f"{words}: no octave of it lies within {low} to {high} ({within.name}); "
                "choose a shorter passage, another --instrument or a --range of your own"
            )
    raise AssertionError("every statement fits by itself, so all of them do")


def _note(onset: int, length: int, pitch: SpelledPitch, shift: int, bar_index: int) -> Note:
    placed = SpelledPitch(pitch.letter, pitch.alteration, (pitch.octave or 0) + shift)
    assert placed.pitch is not None
    return Note(onset, length, placed.pitch, str(placed), bar_index)


def _laid(blocks: Sequence[Block]) -> Iterator[Bar]:
    at, number = 0, 1
    for block in blocks:
        for bar in block.bars:
            yield Bar(number, 1, at, bar.meter.bar_ticks, 0, bar.meter, 1, block.key)
            at += bar.meter.bar_ticks
            number += 1


def _chords(blocks: Sequence[Block], end: int) -> Iterator[ChordSpan]:
    found: list[tuple[int, str]] = []
    at = 0
    for block in blocks:
        first = len(found)
        for bar in block.bars:
            for offset, symbol in bar.chords:
                # A chord that goes on is not written again, except where a block begins.
                if len(found) == first or found[-1][1] != symbol:
                    found.append((at + offset, symbol))
            at += bar.meter.bar_ticks
    ends = [*(onset for onset, _ in found[1:]), end][: len(found)]
    for (onset, symbol), stop in zip(found, ends, strict=True):
        yield ChordSpan(symbol, onset, stop)


def _sections(blocks: Sequence[Block], end: int) -> Iterator[Section]:
    starts: list[tuple[int, str]] = []
    at = 0
    for block in blocks:
        for index, bar in enumerate(block.bars):
            label = " ".join(word for word in (block.label if index == 0 else "", bar.section) if word)
            if label:
                starts.append((at, label))
            at += bar.meter.bar_ticks
    ends = [*(onset for onset, _ in starts[1:]), end][: len(starts)]
    for (onset, label), stop in zip(starts, ends, strict=True):
        yield Section(label, onset, stop)
