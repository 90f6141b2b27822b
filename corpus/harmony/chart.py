"""Chord charts: read and printed as text, taken from a transcription, laid over one that has no chords.

The text's grammar is that of ``corpus.harmony.chart_text``. A pickup bar is no part of a chart.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Final

from corpus.errors import QueryError, RangeError
from corpus.form import chorus_numbers, sections_from_form
from corpus.harmony.chart_text import (
    Chart,
    ChartBar,
    ChartChord,
    parse_chart,
    print_chart,
    tidy_symbol,
    with_section,
)
from corpus.harmony.symbols import NO_CHORD
from corpus.model import Bar, ChordSpan, Finding, Form, FormPart, Meter, Section, Transcription

__all__ = ["Chart", "ChartBar", "ChartChord", "apply_chart", "chart_of", "parse_chart", "print_chart"]

BEAT_PARTS: Final = 12
"""Chords of a transcription are placed on the nearest twelfth of a beat when a chart is taken from it."""


def chart_of(transcription: Transcription, chorus: int | None = None) -> Chart:
    """The chart of one chorus (from 1), or of the whole transcription, as played.

    Each bar states the chord in force at its start; where there is none it states N.C. A bar of another length than
    its meter's gets the meter that its length makes, where that is a whole number of beats. The form is kept where it
    divides the bars. Raises QueryError without any chord, RangeError for a chorus that is not there.
    """
    if not transcription.chords:
        raise QueryError("this line has no chord symbols: lay a chart over it first")
    bars: Sequence[Bar] = _bars_without_pickup(transcription)
    if chorus is not None:
        found = [bar for bar in bars if bar.chorus == chorus]
        if not found:
            last = max((bar.chorus for bar in bars), default=1)
            raise RangeError(f"there is no chorus {chorus}: the line has {last}")
        bars = found
    details = transcription.details
    fits = details.form is not None and len(bars) % details.form.bars == 0
    return Chart(
        bars=tuple(_bar_of(transcription, bar, is_first=index == 0) for index, bar in enumerate(bars)),
        title=" ".join(details.title.split()),
        key=details.key,
        form=details.form if fits else None,
    )


def _bars_without_pickup(transcription: Transcription) -> tuple[Bar, ...]:
    bars = transcription.bars
    return bars[1:] if len(bars) > 1 and bars[0].number == 0 else bars


def _bar_of(transcription: Transcription, bar: Bar, *, is_first: bool) -> ChartBar:
    meter = bar.meter
    if bar.length_ticks != meter.bar_ticks and bar.length_ticks % meter.beat_ticks == 0:
        meter = Meter(max(bar.length_ticks // meter.beat_ticks, 1), meter.denominator)
    end_ticks = bar.onset_ticks + bar.length_ticks
    places: dict[Fraction, str] = {Fraction(0): NO_CHORD}
    for span in transcription.chords_between(bar.onset_ticks, end_ticks):
        # A silence is stated too: N.C. where a span ends, until the next one takes its place.
        for ticks, symbol in ((span.onset_ticks, span.symbol), (span.end_ticks, NO_CHORD)):
            offset = Fraction(max(ticks - bar.onset_ticks, 0), meter.beat_ticks)
            offset = Fraction(round(offset * BEAT_PARTS), BEAT_PARTS)
            if offset < meter.numerator and ticks < end_ticks:
                places[offset] = tidy_symbol(symbol)
    chords = tuple(ChartChord(offset, places[offset]) for offset in sorted(places))
    section = next((s for s in transcription.sections if bar.onset_ticks <= s.onset_ticks < end_ticks), None)
    if section is None and is_first:
        section = transcription.section_at(bar.onset_ticks)
    return with_section(ChartBar(chords, meter), section.label if section else None)


def apply_chart(transcription: Transcription, chart: Chart) -> Transcription:
    """A transcription without chords with the chart's chords laid over it, again in every chorus.

    The chart starts with the first full bar; a pickup gets no chord. Where the line's form is known the chart starts
    again with each chorus (or after several, when it is as long as several); else it follows upon itself. What the
    line does not know it takes from the chart: key, form (the chart's header, else its sections), sections, choruses.
    A chord that goes on over a bar line is one span, unless a section begins there.

    Whatever contradicts the line (length, meter, key) becomes a Finding of kind ``chord`` with its bar, and the notes
    stay as they are. Raises QueryError when the line has chord symbols of its own.
    """
    if transcription.chords:
        raise QueryError("this line has chord symbols of its own: a chart can only be laid over a line without")
    filled = _filled_in(transcription, chart)
    bars = _bars_without_pickup(filled)
    places = list(_chart_places(bars, len(chart.bars), filled.details.form))
    findings = [*_key_findings(transcription, chart), *_length_findings(bars, chart, filled.details.form)]
    findings += _meter_findings(bars, chart, places)
    return replace(
        filled,
        chords=tuple(_spans(filled, bars, chart, places)),
        findings=(*transcription.findings, *findings),
    )


def _filled_in(transcription: Transcription, chart: Chart) -> Transcription:
    """The transcription with key, form, choruses and sections of the chart where it has none of its own."""
    details, bars, sections = transcription.details, transcription.bars, transcription.sections
    if details.key is None and chart.key is not None:
        details = replace(details, key=chart.key)
        bars = tuple(bar if bar.key else replace(bar, key=chart.key) for bar in bars)
    form = chart.form or _form_of_sections(chart)
    if details.form is None and form is not None:
        details = replace(details, form=form)
        if all(bar.chorus == 1 for bar in bars):
            numbers = chorus_numbers(bars, form)
            bars = tuple(replace(bar, chorus=number) for bar, number in zip(bars, numbers, strict=True))
    if not sections:
        sections = _sections_of_chart(transcription, chart)
        if not sections and details.form is not None:
            sections = sections_from_form(bars, details.form)
    return replace(transcription, details=details, bars=bars, sections=sections)


def _form_of_sections(chart: Chart) -> Form | None:
    """The form that the chart's section names make, when the first bar bears one and all can be written in a form."""
    starts = [index for index, bar in enumerate(chart.bars) if bar.section is not None]
    if not starts or starts[0] != 0 or len(chart.bars) > 512:
        return None
    parts = [
        FormPart(chart.bars[start].section or "", end - start)
        for start, end in zip(starts, [*starts[1:], len(chart.bars)], strict=True)
    ]
    words = ("".join(part.label.split()).replace("'", "") for part in parts)
    return Form(tuple(parts)) if all(word.isalpha() and word.isascii() for word in words) else None


def _sections_of_chart(transcription: Transcription, chart: Chart) -> tuple[Section, ...]:
    bars = _bars_without_pickup(transcription)
    form = transcription.details.form or chart.form
    starts: list[tuple[str, int]] = []
    for bar, place in zip(bars, _chart_places(bars, len(chart.bars), form), strict=True):
        label = None if place is None else chart.bars[place].section
        if label is not None:
            starts.append((label, bar.onset_ticks if starts or bar is not bars[0] else 0))
    if not starts:
        return ()
    ends = [onset for _, onset in starts[1:]] + [transcription.end_ticks]
    return tuple(Section(label, onset, end) for (label, onset), end in zip(starts, ends, strict=True))


def _chart_places(bars: Sequence[Bar], length: int, form: Form | None) -> Iterator[int | None]:
    """For each bar the index of the chart's bar that lies over it, or None past the end of too short a chart."""
    chorus_bars = length if form is None else form.bars
    if chorus_bars % length == 0 or length % chorus_bars == 0:
        chorus_bars = length
    for index in range(len(bars)):
        place = index % chorus_bars
        yield place if place < length else None


def _key_findings(transcription: Transcription, chart: Chart) -> Iterator[Finding]:
    key = transcription.details.key
    if key is not None and chart.key is not None and key != chart.key:
        yield Finding("chord", f"the chart is in {chart.key}, the line in {key}: the line's key is kept")


def _length_findings(bars: Sequence[Bar], chart: Chart, form: Form | None) -> Iterator[Finding]:
    length = len(chart.bars)
    if form is not None and form.bars % length and length % form.bars:
        where = "the chart's last bars are left out" if length > form.bars else "the chorus's last bars get no chord"
        place = bars[min(length, form.bars, len(bars)) - 1] if bars else None
        text = f"the chart has {length} bars and a chorus {form.bars}: laid from the start of each chorus, {where}"
        yield Finding("chord", text, place.number if place else None, None, place.pass_number if place else 1)
        return
    over = len(bars) % length
    if len(bars) < length:
        last = bars[-1]
        rest = "its last bar is" if length - over == 1 else f"its last {length - over} bars are"
        yield Finding("chord", f"the line has {len(bars)} bars, the chart {length}: {rest} not used", last.number)
    elif over:
        last = bars[-1]
        text = f"the line has {len(bars)} bars, the chart {length}: the last time it breaks off after its bar {over}"
        yield Finding("chord", text, last.number, None, last.pass_number)


def _meter_findings(bars: Sequence[Bar], chart: Chart, places: Sequence[int | None]) -> Iterator[Finding]:
    """One finding for each meter of the chart that meets another length of bar, at the first such bar."""
    told: set[tuple[Meter, Meter]] = set()
    for bar, place in zip(bars, places, strict=True):
        if place is None:
            continue
        meter = chart.bars[place].meter
        if meter.bar_ticks == bar.length_ticks or (meter, bar.meter) in told or bar is bars[-1]:
            continue  # the last bar may be short, to complete the pickup
        told.add((meter, bar.meter))
        beats = Fraction(bar.length_ticks, bar.meter.beat_ticks)
        text = (
            f"the chart's bar {place + 1} is in {meter}, the line's bar has {float(beats):g} beats of {bar.meter}: "
            "chords keep their beats, and those past the bar line are left out"
        )
        yield Finding("chord", text, bar.number, None, bar.pass_number)


def _spans(
    transcription: Transcription, bars: Sequence[Bar], chart: Chart, places: Sequence[int | None]
) -> Iterator[ChordSpan]:
    section_onsets = {section.onset_ticks for section in transcription.sections}
    changes: list[tuple[int, str | None]] = []
    for bar, place in zip(bars, places, strict=True):
        if place is None:
            changes.append((bar.onset_ticks, None))
            continue
        begins = place == 0 or bar.onset_ticks in section_onsets
        for chord in chart.bars[place].chords:
            # The chart's own beat counts: in 6/8 against 3/4 its chords stay where they sound.
            offset = round(chord.offset_beats * chart.bars[place].meter.beat_ticks)
            goes_on = not offset and not begins and bool(changes) and changes[-1][1] == chord.symbol
            if offset < bar.length_ticks and not goes_on:
                changes.append((bar.onset_ticks + offset, chord.symbol))
    ends = [onset for onset, _ in changes[1:]] + [transcription.end_ticks]
    for (onset, symbol), end in zip(changes, ends, strict=True):
        if symbol is not None and end > onset:
            yield ChordSpan(symbol, onset, end)
