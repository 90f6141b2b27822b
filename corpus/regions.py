"""Passages of a transcription as musicians name them: bars, or bar and beat to bar and beat.

Grammar: ``BAR[~PASS][:BEAT][-BAR[~PASS][:BEAT]]``. ``1-2`` is bars 1 and 2 whole; ``1:3-2:2.5`` runs from beat 3 of
bar 1 up to the note that starts on the second half of beat 2 in bar 2; ``5~2`` is bar 5 the second time through; 0 is
a pickup. An end without a beat is the end of its bar.
"""

import re
from dataclasses import dataclass
from fractions import Fraction

from corpus.errors import QueryError, RangeError
from corpus.model import Bar, Transcription

_POINT = r"(\d{1,5})(?:~(\d{1,3}))?(?::(\d{1,3}(?:\.\d{1,6}|\+\d{1,2}/\d{1,2})?))?"
_TYPING_SLACK_TICKS = 24
"""A typed decimal beat (2.333) can fall a few ticks beside the note that is meant."""
_REGION = re.compile(rf"\s*{_POINT}\s*(?:[-–]\s*{_POINT})?\s*")


@dataclass(frozen=True, slots=True)
class Point:
    """A place on the page: written bar, pass (from 1), and beat (from 1) or None for the whole bar."""

    bar: int
    pass_number: int = 1
    beat: Fraction | None = None


@dataclass(frozen=True, slots=True)
class Region:
    """From one place to another, both included."""

    start: Point
    end: Point


def _beat(text: str | None) -> Fraction | None:
    if text is None:
        return None
    whole, _, part = text.partition("+")
    # Decimals of thirds are written rounded (2.333), so the nearest fraction with a small denominator is meant.
    beat = (Fraction(whole) + Fraction(part or 0)).limit_denominator(96)
    if beat < 1:
        raise QueryError(f"beat {text} does not exist: beats count from 1")
    return beat


def parse_region(text: str) -> Region:
    """Read a passage. Raises QueryError when the text is none, or runs backwards."""
    match = _REGION.fullmatch(text)
    if match is None:
        raise QueryError(f"{text!r} is no passage: write bars (1-2), or bar:beat to bar:beat (1:3-2:2)")
    bar, again, beat, end_bar, end_again, end_beat = match.groups()
    start = Point(int(bar), int(again or 1), _beat(beat))
    if end_bar is None:
        return Region(start, start)
    end = Point(int(end_bar), int(end_again or again or 1), _beat(end_beat))
    if (end.pass_number, end.bar, end.beat or 999) < (start.pass_number, start.bar, start.beat or 1):
        raise QueryError(f"passage {text!r} runs backwards: put the earlier place first")
    return Region(start, end)


def _played_bar(transcription: Transcription, point: Point) -> Bar:
    numbers = [bar for bar in transcription.bars if bar.number == point.bar]
    if not numbers:
        written = [bar.number for bar in transcription.bars]
        raise RangeError(f"there is no bar {point.bar}: the bars are {min(written)} to {max(written)}")
    for bar in numbers:
        if bar.pass_number == point.pass_number:
            return bar
    raise RangeError(f"bar {point.bar} is played {len(numbers)} time(s), not {point.pass_number}")


def _tick(bar: Bar, beat: Fraction) -> int:
    if beat >= bar.meter.numerator + 1:
        raise RangeError(f"bar {bar.number} is in {bar.meter}: it has no beat {float(beat):g}")
    return round(bar.onset_ticks - bar.padding_ticks + (beat - 1) * bar.meter.beat_ticks)


def notes_in(transcription: Transcription, region: Region) -> tuple[int, int]:
    """Indexes of the first and last note that start inside a region, both included.

    Raises RangeError when a bar, beat or pass does not exist, or no note starts there.
    """
    first_bar, last_bar = _played_bar(transcription, region.start), _played_bar(transcription, region.end)
    start = first_bar.onset_ticks
    if region.start.beat is not None:
        start = _tick(first_bar, region.start.beat) - _TYPING_SLACK_TICKS
    stop = last_bar.onset_ticks + last_bar.length_ticks
    if region.end.beat is not None:
        stop = _tick(last_bar, region.end.beat) + _TYPING_SLACK_TICKS + 1
    inside = [index for index, note in enumerate(transcription.notes) if start <= note.onset_ticks < stop]
    if not inside:
        raise RangeError(f"no note starts between bar {region.start.bar} and bar {region.end.bar}")
    return inside[0], inside[-1]


def passage_name(transcription: Transcription, first: int, last: int) -> str:
    """The passage from one note to another (both included) as it is typed: ``57:1-58:3``, ``6~2:1-7~2:2.5``."""
    ends = []
    for index in (first, last):
        bar = transcription.bar_of(index)
        number = f"{bar.number}~{bar.pass_number}" if bar.pass_number > 1 else str(bar.number)
        ends.append(f"{number}:{float(transcription.beat_of(index)):.6g}")
    return "-".join(ends)
