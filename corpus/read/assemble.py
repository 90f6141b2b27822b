"""From the page to the performance: a ``WrittenLine`` becomes a ``Transcription``.

Repeats are played out, ties merged, chord symbols and sections given their spans, choruses numbered.
"""

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from corpus.errors import ReadingError
from corpus.form import chorus_numbers, sections_from_form
from corpus.model import Bar, ChordSpan, Finding, Form, Note, Section, Transcription
from corpus.read.repeats import MOST_PLAYED_BARS, PlayedOrder, part_play_order, play_order
from corpus.read.written import WrittenBar, WrittenLine, WrittenNote

NO_CHORD = "N.C."
MOST_PLAYED_NOTES: Final = 200_000
"""What one line may hold as it is played: far more than any performance, little enough to be kept in memory."""
_CHORUS_MARK = re.compile(r"\bchorus\s*#?(\d{1,3})\b|\b(\d{1,3})(?:st|nd|rd|th)\s+chorus\b", re.IGNORECASE)


def assemble(line: WrittenLine) -> Transcription:
    """Play a written line out.

    Raises ReadingError when it has no note at all, or more bars or notes than one line has.
    """
    if not any(bar.notes for bar in line.bars):
        raise ReadingError("no notes in this line: nothing to store")
    order = _order(line)
    if not any(line.bars[index].notes for index in order.indexes):
        # Signs that contradict each other (a repeat played no times) must not silence the line.
        order = PlayedOrder(tuple(range(len(line.bars))), ((0, "the repeats make no sense: played as written"),))
    written = [line.bars[index] for index in order.indexes]
    _refuse_the_endless(written)
    bars = _played_bars(written, line.details.form)
    remarks = [Finding("reading", text, bar=line.bars[index].number, beat=None) for index, text in order.remarks]
    notes = _played_notes(written, bars)
    end = bars[-1].onset_ticks + bars[-1].length_ticks
    first = next((bar for bar in written if bar.key is not None), None)
    details = replace(
        line.details,
        key=line.details.key or (first.key if first else None),
        meter=line.details.meter or written[0].meter,
    )
    if first is None and details.key is not None:
        bars = [replace(bar, key=details.key) for bar in bars]
    sections = _sections(written, bars, end)
    if not sections and details.form is not None:
        sections = sections_from_form(bars, details.form)
    return Transcription(
        details=details,
        notes=tuple(notes),
        bars=tuple(_choruses_from_marks(bars, sections) if details.form is None else bars),
        chords=tuple(_chords(written, bars, end)),
        sections=sections,
        findings=(*line.findings, *remarks, *_chords_past_the_end(written, bars)),
    )


def _refuse_the_endless(written: list[WrittenBar]) -> None:
    """Raises ReadingError for more bars or notes than one line has, as repeats upon repeats may ask for."""
    for what, count, most in (
        ("bars", len(written), MOST_PLAYED_BARS),
        ("notes", sum(len(bar.notes) for bar in written), MOST_PLAYED_NOTES),
    ):
        if count > most:
            raise ReadingError(f"{count:,} {what} with all repeats: at most {most:,} are one line: split it")


def _order(line: WrittenLine) -> PlayedOrder:
    if line.part_order and any(bar.section for bar in line.bars):
        order = part_play_order(line.bars, line.part_order)
        if any(line.bars[index].notes for index in order.indexes):
            return order
    return play_order(line.bars)


def _played_bars(written: list[WrittenBar], form: Form | None) -> list[Bar]:
    onset = 0
    passes: Counter[tuple[int, int]] = Counter()
    bars: list[Bar] = []
    for bar in written:
        identity = (bar.number, id(bar))
        passes[identity] += 1
        padding = max(bar.meter.bar_ticks - bar.length_ticks, 0) if bar.is_pickup else 0
        bars.append(
            Bar(
                number=bar.number,
                pass_number=passes[identity],
                onset_ticks=onset,
                length_ticks=bar.length_ticks,
                padding_ticks=padding,
                meter=bar.meter,
                key=bar.key,
            )
        )
        onset += bar.length_ticks
    return [replace(bar, chorus=chorus) for bar, chorus in zip(bars, chorus_numbers(bars, form), strict=True)]


def _played_notes(written: list[WrittenBar], bars: list[Bar]) -> list[Note]:
    """The notes in order with ties merged.

    A tie joins a note to the next one when that starts where the note ends and stands on the same letter and octave;
    the first note's pitch counts, since an accidental holds through a tie.
    """
    notes: list[Note] = []
    open_tie = False
    for index, (page, bar) in enumerate(zip(written, bars, strict=True)):
        for note in page.notes:
            onset = bar.onset_ticks + note.offset_ticks
            if open_tie and _continues(notes[-1], note, onset):
                last = notes[-1]
                notes[-1] = last._replace(duration_ticks=last.duration_ticks + note.duration_ticks)
            else:
                notes.append(
                    Note(
                        onset_ticks=onset,
                        duration_ticks=note.duration_ticks,
                        pitch=note.pitch,
                        spelling=note.spelling,
                        bar_index=index,
                        is_ghost=note.is_ghost,
                        ornaments=note.ornaments,
                    )
                )
            open_tie = note.tied_to_next
    return notes


def _continues(last: Note, note: WrittenNote, onset_ticks: int) -> bool:
    if last.end_ticks != onset_ticks or note.pitch is None or last.pitch is None:
        return False
    same_place = last.spelling.replace("#", "").replace("b", "") == note.spelling.replace("#", "").replace("b", "")
    return last.pitch == note.pitch or same_place


def _chords(written: list[WrittenBar], bars: list[Bar], end_ticks: int) -> list[ChordSpan]:
    """Each symbol lasts to the next; ``N.C.`` ends the chord before it and is kept as a span of its own."""
    places = [
        (bar.onset_ticks + chord.offset_ticks, chord.symbol)
        for page, bar in zip(written, bars, strict=True)
        for chord in page.chords
    ]
    places.sort(key=lambda place: place[0])
    # Several symbols on one spot: the last one written is the one in force (the others are alternatives or repeats).
    unique = dict(places)
    onsets = [*unique, end_ticks]
    return [
        ChordSpan(symbol, onset, max(following, onset))
        for (onset, symbol), following in zip(unique.items(), onsets[1:], strict=True)
        if following > onset
    ]


def _chords_past_the_end(written: list[WrittenBar], bars: list[Bar]) -> Iterator[Finding]:
    """Chords that stand where nothing is left of their bar, told once a written bar."""
    told: set[tuple[int, int]] = set()
    for index, (page, bar) in enumerate(zip(written, bars, strict=True)):
        late = [chord.symbol for chord in page.chords if chord.offset_ticks >= page.length_ticks]
        if not late or (bar.number, id(page)) in told:
            continue
        told.add((bar.number, id(page)))
        following = written[index + 1] if index + 1 < len(written) else None
        is_lost = following is None or any(chord.offset_ticks == 0 for chord in following.chords)
        what = "left out" if is_lost else "taken for the next bar's"
        names = " and ".join(dict.fromkeys(late))
        yield Finding("chord", f"{names} past the end of the bar: {what}", bar=bar.number, pass_number=bar.pass_number)


def _sections(written: list[WrittenBar], bars: list[Bar], end_ticks: int) -> tuple[Section, ...]:
    starts = [
        (page.section, bar.onset_ticks) for page, bar in zip(written, bars, strict=True) if page.section is not None
    ]
    if not starts:
        return ()
    if bars[0].number == 0 and len(bars) > 1 and starts[0][1] == bars[1].onset_ticks:
        starts[0] = (starts[0][0], 0)  # the pickup belongs to the section that it leads into
    ends = [onset for _, onset in starts[1:]] + [end_ticks]
    return tuple(Section(label, onset, end) for (label, onset), end in zip(starts, ends, strict=True) if end > onset)


def _choruses_from_marks(bars: list[Bar], sections: tuple[Section, ...]) -> list[Bar]:
    """Number choruses by marks that say so (``Chorus 2``), where no form tells."""
    marks = [
        (section.onset_ticks, int(match[1] or match[2]))
        for section in sections
        if (match := _CHORUS_MARK.search(section.label))
    ]
    if not marks:
        return bars
    numbered = []
    for bar in bars:
        chorus = next((number for onset, number in reversed(marks) if onset <= bar.onset_ticks), 1)
        numbered.append(replace(bar, chorus=max(chorus, 1)))
    return numbered
