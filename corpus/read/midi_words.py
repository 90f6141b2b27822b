"""How a MIDI line was played, in words: swing by passage with its sureness, straying, and where reading is in doubt."""

from typing import Final

from corpus.model import Finding
from corpus.read.midi_page import Timeline

_STRAIGHT: Final = 1.1
_WORTH_TELLING_LAG_MS: Final = 15
_DOUBTFUL: Final = 0.6
_LOOSE_MS: Final = 45
_LOOSE_SHARE: Final = 0.12


def playing_remarks(timeline: Timeline, numbers: dict[int, int], settled: float | None) -> list[Finding]:
    """Findings of kind ``reading`` on how the line was played and how sure its notation is."""
    return [*_swing(timeline, numbers, settled), *_straying(timeline), *_doubts(timeline, numbers)]


def _swing(timeline: Timeline, numbers: dict[int, int], settled: float | None) -> list[Finding]:
    if settled is not None:
        return [Finding("reading", f"eighths are read as swung {settled:g} : 1, as you said")]
    found: list[Finding] = []
    for passage in timeline.quantised.passages:
        bars = [timeline.bar_of_beat(passage.first), timeline.bar_of_beat(passage.last)]
        shown = [numbers[bar] for bar in range(bars[0], bars[1] + 1) if bar in numbers]
        if not shown:
            continue
        where = f"bars {shown[0]} to {shown[-1]}" if len(shown) > 1 else f"bar {shown[0]}"
        if not passage.off_beats:
            found.append(Finding("reading", f"{where}: no notes between the beats, so nothing tells how eighths swing"))
            continue
        counted = f"{passage.off_beats} note{'s' * (passage.off_beats > 1)} between the beats"
        kind = "straight eighths" if passage.ratio < _STRAIGHT else f"eighths swung {passage.ratio:.1f} : 1"
        within = f"90 % sure of {passage.low:.1f} to {passage.high:.1f}"
        found.append(Finding("reading", f"{where}: {kind}, {passage.sureness} ({within}, by {counted})"))
    return found


def _straying(timeline: Timeline) -> list[Finding]:
    timing = timeline.quantised.timing
    found: list[Finding] = []
    lag = round(timing.lag_ms)
    if abs(lag) >= _WORTH_TELLING_LAG_MS:
        found.append(
            Finding("reading", f"played {abs(lag)} ms {'behind' if lag > 0 else 'ahead of'} the beat on average")
        )
    beats = timeline.beats
    middle = sorted(beat.ms for beat in beats)[len(beats) // 2]
    if timing.deviation_ms >= min(_LOOSE_MS, max(_LOOSE_SHARE * middle, 10)):
        far = f"notes stray {timing.deviation_ms:.0f} ms from the file's beats"
        found.append(Finding("reading", f"{far}: played without a click? the rhythm is a guess"))
    return found


def _doubts(timeline: Timeline, numbers: dict[int, int]) -> list[Finding]:
    """One finding for all beats whose notation is less than 60 % sure, at the first of them."""
    struck = {note.beat for note in timeline.quantised.notes}
    doubtful = [
        beat
        for beat, sureness in enumerate(timeline.quantised.sureness)
        if sureness < _DOUBTFUL and beat in struck and timeline.bar_of_beat(beat) in numbers
    ]
    if not doubtful:
        return []
    listed = sorted({numbers[timeline.bar_of_beat(beat)] for beat in doubtful})
    more = ", …" if len(listed) > 8 else ""
    bars = ", ".join(map(str, listed[:8])) + more
    count = f"{len(doubtful)} beat{'s' * (len(doubtful) > 1)}"
    return [Finding("reading", f"{count} may be meant otherwise than written (bar{'s' * (len(listed) > 1)} {bars})")]
