"""From cured measures to one line of notes: music21 parses, then one voice and one note of each chord is chosen.

Voices are ranked by their mean pitch over the whole part. In each bar the best-ranked voice that has notes there is
the line; of a chord it is the top or the bottom note. Grace notes become ornaments of the note they lead to.

Losses: the other voices and chord notes; grace notes that no note follows directly; the end of a note that the same
voice plays into.
"""

import warnings
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any
from xml.etree.ElementTree import Element, SubElement

from corpus.errors import ReadingError
from corpus.model import TICKS_PER_QUARTER, Ornament
from corpus.pitch import LETTERS, SpelledPitch
from corpus.read.musicxml_bars import PageBar
from corpus.read.remarks import Remarks
from corpus.read.written import Voice, WrittenNote


@dataclass(frozen=True, slots=True)
class _Head:
    """One note head as music21 reports it; ``pitch`` is None for a dead note."""

    offset_ticks: int
    duration_ticks: int
    pitch: int | None
    spelling: str
    is_tied: bool
    is_ghost: bool
    is_grace: bool


def line_notes(bars: Sequence[PageBar], voice: Voice, name: str, remarks: Remarks) -> list[tuple[WrittenNote, ...]]:
    """The notes of the line, bar by bar.

    ``voice`` is ``top`` or ``bottom``. What had to be chosen is told in ``remarks``. Raises ReadingError when music21
    cannot parse the notes.
    """
    measures = _parse([bar.notes for bar in bars], name)
    heads = [_voices_of(measure, bar.voices) for measure, bar in zip(measures, bars, strict=True)]
    ranks = _ranks(heads, voice)
    monophonic: list[list[_Head]] = []
    for bar, voices in zip(bars, heads, strict=True):
        sounding = [key for key, group in voices.items() if any(not head.is_grace for head in group)]
        if len(sounding) > 1:
            remarks.add(f"several voices: the {voice} one is taken", bar.number)
        chosen = min(sounding or voices, key=ranks.__getitem__, default=None)
        group = [] if chosen is None else voices[chosen]
        monophonic.append(_one_at_a_time(group, voice, bar.number, remarks))
    return _with_ornaments(monophonic, bars, remarks)


def _parse(measures: Sequence[Element], name: str) -> list[Any]:
    """The measures as music21 reads them. The only place that calls music21, and that catches what it raises."""
    root = Element("score-partwise", {"version": "4.0"})
    score_part = SubElement(SubElement(root, "part-list"), "score-part", {"id": "P1"})
    SubElement(score_part, "part-name").text = ""
    part = SubElement(root, "part", {"id": "P1"})
    for number, measure in enumerate(measures, start=1):
        measure.set("number", str(number))
        part.append(measure)
    if measures:
        attributes = Element("attributes")
        SubElement(attributes, "divisions").text = str(TICKS_PER_QUARTER)
        measures[0].insert(0, attributes)
    from music21 import stream
    from music21.musicxml import xmlToM21

    make_importer: Any = xmlToM21.MusicXMLImporter
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # music21's remarks on overfull bars: lengths are ours
            score: Any = make_importer().xmlRootToScore(root)
        found = list(score.parts[0].getElementsByClass(stream.Measure))
    except Exception as error:
        cause = " ".join(str(error).split())[:120] or type(error).__name__
        raise ReadingError(f"{name}: its notes cannot be parsed ({cause}): export the score again") from error
    if len(found) != len(measures):
        raise ReadingError(f"{name}: {len(measures)} bars are written but {len(found)} were parsed: export it again")
    return found


def _voices_of(measure: Any, voices: tuple[str, ...]) -> dict[str, list[_Head]]:
    """The note heads of a parsed measure by voice, in order of time."""
    found: dict[str, list[_Head]] = {}
    streams = list(measure.voices) if len(voices) > 1 else []
    if streams:
        for stream in streams:
            found[str(stream.id)] = _heads(stream)
    elif voices:
        found[voices[0]] = _heads(measure)
    return {key: heads for key, heads in found.items() if heads}


def _heads(stream: Any) -> list[_Head]:
    heads: list[_Head] = []
    for element in stream.notes:
        start = round(element.offset * TICKS_PER_QUARTER)
        duration = element.duration
        is_grace = bool(duration.isGrace)
        length = 0 if is_grace else round(duration.quarterLength * TICKS_PER_QUARTER)
        members = getattr(element, "notes", (element,))
        heads += [_head(note, start, length, is_grace) for note in members]
    return heads


def _head(note: Any, start: int, length: int, is_grace: bool) -> _Head:
    pitch: SpelledPitch | None = None
    if note.notehead != "x" and hasattr(note, "pitch"):
        written = note.pitch
        alteration = 0 if written.accidental is None else int(written.accidental.alter)
        pitch = SpelledPitch(LETTERS.index(written.step), alteration, written.octave)
    tie = note.tie
    return _Head(
        offset_ticks=start,
        duration_ticks=length,
        pitch=None if pitch is None else pitch.pitch,
        spelling="" if pitch is None else str(pitch),
        is_tied=tie is not None and tie.type in ("start", "continue"),
        is_ghost=bool(note.noteheadParenthesis),
        is_grace=is_grace,
    )


def _ranks(bars: Iterable[dict[str, list[_Head]]], voice: Voice) -> dict[str, tuple[bool, float, str]]:
    """For every voice a value to sort by, the best first: its mean pitch; voices without any pitch come last."""
    pitches: dict[str, list[int]] = defaultdict(list)
    for voices in bars:
        for key, heads in voices.items():
            pitches[key] += [head.pitch for head in heads if head.pitch is not None and not head.is_grace]
    sign = -1 if voice == "top" else 1
    return {key: (not found, sign * sum(found) / len(found) if found else 0.0, key) for key, found in pitches.items()}


def _one_at_a_time(heads: list[_Head], voice: Voice, bar: int, remarks: Remarks) -> list[_Head]:
    """One head of each chord, and no note that lasts into the next one."""
    chosen: list[_Head] = []
    told_at = -1  # the place of the last chord that was counted
    for head in heads:
        last = chosen[-1] if chosen else None
        if last is None or last.offset_ticks != head.offset_ticks or last.is_grace or head.is_grace:
            if last is not None and not head.is_grace and last.offset_ticks + last.duration_ticks > head.offset_ticks:
                chosen[-1] = replace(last, duration_ticks=head.offset_ticks - last.offset_ticks)
                remarks.add("a note lasts into the next one of its voice: cut short", bar)
            chosen.append(head)
            continue
        if told_at != head.offset_ticks:
            remarks.add(f"chords: the {voice} note is taken", bar)
            told_at = head.offset_ticks
        if _is_better(head, last, voice):
            chosen[-1] = head
    return chosen


def _is_better(head: _Head, than: _Head, voice: Voice) -> bool:
    if head.pitch is None or than.pitch is None:
        return than.pitch is None and head.pitch is not None
    return head.pitch > than.pitch if voice == "top" else head.pitch < than.pitch


def _with_ornaments(
    monophonic: Sequence[list[_Head]], bars: Sequence[PageBar], remarks: Remarks
) -> list[tuple[WrittenNote, ...]]:
    """Written notes with the grace notes before them; those at the end of a bar lead into the next."""
    result: list[tuple[WrittenNote, ...]] = []
    waiting: list[Ornament] = []
    waits_at = 0
    waits_in = 0
    for bar, heads in zip(bars, monophonic, strict=True):
        notes: list[WrittenNote] = []
        for head in heads:
            if waiting and waits_at != head.offset_ticks:
                remarks.add("grace notes that no note follows directly are left out", waits_in)
                waiting = []
            if head.is_grace:
                if head.pitch is not None:
                    waiting.append(Ornament(head.pitch, head.spelling))
                    waits_at, waits_in = head.offset_ticks, bar.number
                continue
            notes.append(
                WrittenNote(
                    offset_ticks=head.offset_ticks,
                    duration_ticks=head.duration_ticks,
                    pitch=head.pitch,
                    spelling=head.spelling,
                    tied_to_next=head.is_tied,
                    is_ghost=head.is_ghost,
                    ornaments=tuple(waiting),
                )
            )
            waiting = []
        waits_at -= bar.length_ticks  # counted from the next bar line
        result.append(tuple(notes))
    if waiting:
        remarks.add("grace notes that no note follows directly are left out", waits_in)
    return result
