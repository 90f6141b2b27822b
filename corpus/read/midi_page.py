"""Quantised notes on written bars: which bars are the line's, what number they bear, what stands in them."""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from operator import attrgetter
from typing import Final

from corpus.errors import QueryError, ReadingError
from corpus.harmony.symbols import read_symbol
from corpus.model import TICKS_PER_QUARTER, Ornament
from corpus.pitch import Key, default_spelling, parse_key
from corpus.quantise.evidence import Beat
from corpus.quantise.lengths import Ending, silences_of, usual_silence, written_end
from corpus.quantise.patterns import swung_place
from corpus.quantise.quantise import Placed, Quantised, sounding_place
from corpus.read.midi_bars import FileBar
from corpus.read.written import WrittenBar, WrittenChord, WrittenNote

_CHORD_SHARE: Final = 0.8
_LEAST_CHORDS: Final = 2
_CHORD_PARTS: Final = 12
"""Chord symbols stand on the nearest twelfth of a quarter."""
_MOST_STEPS: Final = 64
_MOST_GRACES: Final = 6


@dataclass(frozen=True)
class Timeline:
    """The file's bars, and the beats (from bar ``first_bar`` on) with the bar of each, as they were quantised."""

    bars: Sequence[FileBar]
    first_bar: int
    beats: Sequence[Beat]
    homes: Sequence[int]
    quantised: Quantised

    def bar_of_beat(self, beat: int) -> int:
        """The index of the bar in which a beat stands."""
        return self.first_bar + self.homes[beat]

    def place(self, note: Placed) -> Fraction:
        """The written place of a note, in quarters from the file's start."""
        beat = self.beats[note.beat]
        return _exact(beat.start) + note.place * _exact(beat.length)


@dataclass(frozen=True, slots=True)
class WrittenPlace:
    """What else is known of a note: pitch, played onset and end in quarters, whether it is soft."""

    pitch: int
    played: float
    end: float
    is_soft: bool


@dataclass(frozen=True, slots=True)
class MidiPage:
    """The written bars, the number that each bar of the file bears (0: none), and remarks."""

    bars: tuple[WrittenBar, ...]
    numbers: dict[int, int]
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Sounding:
    """A note with written onset and end, in quarters, and its grace notes."""

    start: Fraction
    end: Fraction
    pitch: int
    is_soft: bool
    ornaments: tuple[Ornament, ...]


def _exact(value: float) -> Fraction:
    # Beats stand on bars of whole 64ths or on ticks of the file: this denominator holds both.
    return Fraction(value).limit_denominator(1_000_000)


def page_of(
    timeline: Timeline,
    places: Sequence[WrittenPlace],
    keys: Sequence[tuple[Fraction, str]],
    markers: Sequence[tuple[Fraction, str]],
    texts: Sequence[tuple[Fraction, str]],
    first_bar: int | None,
) -> MidiPage:
    """The written bars. Raises ReadingError when no note stands at or after the bar that should be the first."""
    sounding = _sounding(timeline, places)
    chords, remarks = _chords(texts)
    labels = _by_bar(timeline.bars, markers)
    start, pickup, more = _start(timeline.bars, sounding, labels, chords, first_bar)
    remarks += more
    sounding = [note for note in sounding if note.start >= (start if pickup is None else pickup)]
    if not sounding:
        raise ReadingError(f"no note stands in bar {first_bar} of the file or after it: choose an earlier one")
    end = max(note.end for note in sounding)
    keyed = _keys(timeline.bars, keys)
    bars: list[WrittenBar] = []
    numbers: dict[int, int] = {}
    for index, bar in enumerate(timeline.bars):
        is_pickup = pickup is not None and bar.start <= pickup < bar.end
        if (bar.start < start and not is_pickup) or bar.start >= end:
            continue
        opening = pickup if is_pickup and pickup is not None else bar.start
        numbers[index] = len(bars) + (0 if pickup is not None else 1)
        written = WrittenBar(
            number=numbers[index],
            meter=bar.meter,
            length_ticks=_ticks(bar.end - opening),
            notes=tuple(_notes_in(sounding, opening, bar.end)),
            chords=tuple(
                WrittenChord(_ticks(max(place - opening, Fraction(0))), symbol)
                for place, symbol in chords
                if opening <= place < bar.end
                or (place < opening and not bars and _is_last_before(chords, place, opening))
            ),
            section=labels.get(index),
            key=keyed[index],
            is_pickup=is_pickup,
        )
        bars.append(written)
    if pickup is not None and len(bars) > 1:
        bars[0] = replace(bars[0], meter=bars[1].meter)
    return MidiPage(tuple(bars), numbers, tuple(remarks))


def _is_last_before(chords: Sequence[tuple[Fraction, str]], place: Fraction, opening: Fraction) -> bool:
    return not any(place < other <= opening for other, _ in chords)


def _ticks(quarters: Fraction) -> int:
    return round(quarters * TICKS_PER_QUARTER)


def _sounding(timeline: Timeline, places: Sequence[WrittenPlace]) -> list[_Sounding]:
    """The notes with their written ends; grace notes go to the note after them."""
    placed = timeline.quantised.notes
    main = [index for index, note in enumerate(placed) if not note.is_grace]
    starts = [timeline.place(placed[index]) for index in main]
    endings = [
        _ending(timeline, places[index], placed[index], start, following, after)
        for index, start, following, after in zip(
            main, starts, [*starts[1:], None], [*(placed[i] for i in main[1:]), None], strict=True
        )
    ]
    silence = usual_silence(silences_of(endings[:-1]))
    found: list[_Sounding] = []
    before = -1
    for index, start, ending in zip(main, starts, endings, strict=True):
        graces = tuple(Ornament(places[i].pitch, default_spelling(places[i].pitch)) for i in range(before + 1, index))[
            -_MOST_GRACES:
        ]
        before = index
        end = _exact(written_end(ending, silence))
        found.append(_Sounding(start, max(end, start), places[index].pitch, places[index].is_soft, graces))
    return found


def _ending(
    timeline: Timeline,
    played: WrittenPlace,
    note: Placed,
    start: Fraction,
    following: Fraction | None,
    after: Placed | None,
) -> Ending:
    """Where a note might end: on beats, on swung halves of them, on parts of its own beat, at the next note."""
    beats = timeline.beats
    late = played.end if following is None else min(played.end, float(following))
    limit = float(following) if following is not None else max(late, float(start)) + 1.01
    steps: list[tuple[float, float]] = []
    for index in range(note.beat, len(beats)):
        beat = beats[index]
        if beat.start >= limit or len(steps) > _MOST_STEPS:
            break
        parts = {0.5, 1.0}
        if index == note.beat:
            parts |= {float(note.place) + k / note.place.denominator for k in range(1, note.place.denominator)}
        if beat.kind == "compound":
            parts |= {1 / 3, 2 / 3}
        for part in sorted(part for part in parts if part <= 1):
            written = beat.start + part * beat.length
            sounds = swung_place(part, note.long_part) if beat.kind == "swung" and part in (0.5, 1.0) else part
            if float(start) + 1e-9 < written < limit - 1e-9:
                steps.append((written, beat.start + sounds * beat.length))
    if following is not None and after is not None:
        home = beats[after.beat]
        steps.append((float(following), home.start + sounding_place(after) * home.length))
    if not steps:
        steps.append((float(start) + 1.0, float(start) + 1.0))
    # After the last note there is silence wherever it ends.
    next_onset = float(following) if following is not None else steps[-1][0] + 1
    return Ending(float(start), played.end, next_onset, tuple(steps), played.is_soft, beats[note.beat].length)


def _chords(texts: Sequence[tuple[Fraction, str]]) -> tuple[list[tuple[Fraction, str]], list[str]]:
    """The texts as chord symbols where nearly all of them are such."""
    symbols = [(place, text) for place, text in texts if read_symbol(text) is not None]
    if len(symbols) < _LEAST_CHORDS or len(symbols) < _CHORD_SHARE * len(texts):
        return [], []
    rounded = [(Fraction(round(place * _CHORD_PARTS), _CHORD_PARTS), text) for place, text in symbols]
    return rounded, ["the chord symbols are texts of the file"]


def _by_bar(bars: Sequence[FileBar], marks: Sequence[tuple[Fraction, str]]) -> dict[int, str]:
    """Texts by the bar whose start is nearest."""
    starts = [bar.start for bar in bars]
    found: dict[int, str] = {}
    for place, text in marks:
        index = bisect_right(starts, place) - 1
        if place - starts[index] > bars[index].length / 2:
            index += 1
        if index < len(bars):
            found[index] = text
    return found


def _keys(bars: Sequence[FileBar], marks: Sequence[tuple[Fraction, str]]) -> list[Key | None]:
    """The key in force at each bar."""
    named: dict[int, Key] = {}
    for index, text in _by_bar(bars, marks).items():
        try:
            named[index] = parse_key(text)
        except QueryError:
            continue  # mido hands on only names of keys; what another version calls them is no key of ours
    keys: list[Key | None] = []
    key: Key | None = None
    for index in range(len(bars)):
        key = named.get(index, key)
        keys.append(key)
    return keys


def _start(
    bars: Sequence[FileBar],
    sounding: Sequence[_Sounding],
    labels: dict[int, str],
    chords: Sequence[tuple[Fraction, str]],
    wished: int | None,
) -> tuple[Fraction, Fraction | None, list[str]]:
    """Where bar 1 starts, where a pickup before it starts (None: there is none), and remarks."""
    if wished is not None:
        if wished > len(bars):
            raise ReadingError(f"the line ends before bar {wished} of the file: choose an earlier one with --first-bar")
        return _from_bar(bars, wished - 1, sounding)
    onset = sounding[0].start
    starts = [bar.start for bar in bars]
    first = bisect_right(starts, onset) - 1
    if first == 0 and len(bars) > 1 and bars[0].length < bars[1].length:
        return bars[1].start, bars[0].start, []
    marked = [index for index in labels if index <= first]
    charted = [bisect_right(starts, place) - 1 for place, _ in chords if place <= onset]
    begun = max(marked) if marked else min(charted) if charted else first
    if begun == 1 and bars[0].length < bars[1].length:
        return bars[1].start, bars[0].start, []
    remarks = [f"{begun:,} empty bar{'s' * (begun > 1)} before the line left out; --first-bar 1 keeps them"] * (
        begun > 0
    )
    bar = bars[first]
    late = onset - bar.start
    if begun == first and first not in labels and not charted and 2 * late >= bar.length and first + 1 < len(bars):
        if first > 0:
            return bars[first + 1].start, bar.start + late // 1, remarks
        remarks.append("the line begins late in the first bar: where that is a pickup, say --first-bar 2")
    return bars[begun].start, None, remarks


def _from_bar(
    bars: Sequence[FileBar], first: int, sounding: Sequence[_Sounding]
) -> tuple[Fraction, Fraction | None, list[str]]:
    """The start at a bar that the user chose: notes in the bar before it are its pickup, earlier ones are left out."""
    start = bars[first].start
    before = bars[first - 1].start if first else start
    early = [note for note in sounding if note.start < before]
    leading = [note for note in sounding if before <= note.start < start]
    remarks = [f"{len(early):,} notes before that bar are left out"] if early else []
    if not leading:
        return start, None, remarks
    return start, before + (leading[0].start - before) // 1, remarks


def _notes_in(sounding: Sequence[_Sounding], start: Fraction, end: Fraction) -> list[WrittenNote]:
    """The note heads of a bar; what goes on past its end is tied. One note sounds at a time, so ends ascend too."""
    heads: list[WrittenNote] = []
    first_in = bisect_right(sounding, start, key=attrgetter("end"))
    first_after = bisect_left(sounding, end, key=attrgetter("start"))
    for note in sounding[first_in:first_after]:
        first, last = max(note.start, start), min(note.end, end)
        heads.append(
            WrittenNote(
                offset_ticks=_ticks(first - start),
                duration_ticks=_ticks(last - start) - _ticks(first - start),
                pitch=note.pitch,
                spelling=default_spelling(note.pitch),
                tied_to_next=note.end > end,
                is_ghost=note.is_soft,
                ornaments=note.ornaments if first == note.start else (),
            )
        )
    return heads
