"""When notes sound: against onsets worked out by hand, and against the line's own."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from corpus.errors import RangeError
from corpus.lesson.schedule import Click, clicks_of, schedule_of
from corpus.model import TICKS_PER_QUARTER, Bar, Details, Meter, Note, Transcription

Q = TICKS_PER_QUARTER
FOUR = Meter(4, 4)


def _line(notes: list[tuple[float, float, int | None]], bars: tuple[Bar, ...], tempo: float | None) -> Transcription:
    made = []
    for onset, length, pitch in notes:
        tick = round(onset * Q)
        index = max(i for i, bar in enumerate(bars) if bar.onset_ticks <= tick)
        made.append(Note(tick, round(length * Q), pitch, "" if pitch is None else "C3", index))
    return Transcription(Details(tempo_bpm=tempo), tuple(made), bars)


def _bars(count: int, pickup: int = 0) -> tuple[Bar, ...]:
    """Bars of 4/4, after a pickup of so many quarters."""
    first = (Bar(0, 1, 0, pickup * Q, (4 - pickup) * Q, FOUR),) if pickup else ()
    return first + tuple(Bar(i + 1, 1, (pickup + 4 * i) * Q, 4 * Q, 0, FOUR) for i in range(count))


def test_seconds_at_a_tempo() -> None:
    """At 120 a minute a quarter lasts half a second: onsets and lengths by hand, a dead note without pitch."""
    line = _line([(0, 1, 48), (1.5, 0.5, None), (4, 2, 50)], _bars(2), 120)
    found = schedule_of(line, 0, 1)
    assert [(s.note, s.start, s.length, s.pitch) for s in found.sounds] == [
        (0, 0.0, 0.5, 48),
        (1, 0.75, 0.25, None),
        (2, 2.0, 1.0, 50),
    ]
    assert found.length == 4.0
    assert [bar.name for bar in found.bars] == ["1", "2"]


def test_a_passage_begins_at_nought() -> None:
    """The second bar alone begins at 0 s, and a slower tempo stretches it."""
    line = _line([(0, 1, 48), (4, 1, 50), (5, 1, 52)], _bars(2), 240)
    found = schedule_of(line, 1, 1, tempo=60)
    assert [(s.note, s.start) for s in found.sounds] == [(1, 0.0), (2, 1.0)]


def test_metronome_in_a_pickup() -> None:
    """A pickup of one quarter clicks once, unaccented; the bar after it begins with an accent."""
    found = schedule_of(_line([(0, 1, 48)], _bars(1, pickup=1), 60), 0, 1)
    assert found.clicks == (Click(0, False), Click(1, True), Click(2, False), Click(3, False), Click(4, False))


@pytest.mark.parametrize(("meter", "clicks"), [((6, 8), 2), ((12, 8), 4), ((3, 8), 3), ((3, 4), 3), ((5, 4), 5)])
def test_beats_of_meters(meter: tuple[int, int], clicks: int) -> None:
    """Compound meters click their dotted quarters, others every beat (common practice, no source)."""
    bar = Bar(1, 1, 0, Meter(*meter).bar_ticks, 0, Meter(*meter))
    assert len(list(clicks_of(bar))) == clicks


def test_bars_that_do_not_exist() -> None:
    """A bar beyond the last is refused."""
    with pytest.raises(RangeError, match="the line has 2"):
        schedule_of(_line([(0, 1, 48)], _bars(2), 60), 0, 2)


@given(st.lists(st.tuples(st.integers(0, 16 * Q - 1), st.integers(1, Q)), min_size=1), st.floats(20, 400))
def test_onsets_are_those_of_the_line(places: list[tuple[int, int]], tempo: float) -> None:
    """Seconds times the tempo give back the ticks of every note, exactly."""
    bars = _bars(4)
    notes = tuple(Note(onset, length, 60, "C4", onset // (4 * Q)) for onset, length in sorted(places))
    found = schedule_of(Transcription(Details(), notes, bars), 0, 3, tempo)
    ticks = [round(Fraction(s.start) * Fraction(tempo) / 60 * Q) for s in found.sounds]
    assert ticks == [note.onset_ticks for note in notes]
