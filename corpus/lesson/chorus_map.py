"""The chorus map of a lesson: for every bar, which figures stand in it, from where to where."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from corpus.lesson.figures import LessonFigure
from corpus.lesson.schedule import bar_name
from corpus.lesson.signs import with_signs
from corpus.model import Bar, Transcription


@dataclass(frozen=True, slots=True)
class Segment:
    """The part of a place that lies in a bar: from ``start`` to ``end`` in hundredths of the bar, in a lane from 0.

    ``label`` stands where the figure begins, and again in parentheses in the first bar of a row that it runs into.
    """

    figure: int
    place: int
    label: str
    lane: int
    start: float
    end: float
    is_beginning: bool
    is_ending: bool


@dataclass(frozen=True, slots=True)
class MapBar:
    """A bar of the map: number, section that begins, chords, segments of figures, and the chord that the line itself
    spells where it is not the written one (else empty).
    """

    index: int
    name: str
    section: str
    chords: str
    segments: tuple[Segment, ...]
    spelled: str = ""


@dataclass(frozen=True, slots=True)
class MapChorus:
    """A chorus of the map with its bars; ``lanes`` is the most that a bar of it needs."""

    chorus: int
    bars: tuple[MapBar, ...]
    lanes: int


def map_of(
    line: Transcription, figures: Sequence[LessonFigure], bars: range, spelled: Mapping[int, str] | None = None
) -> list[MapChorus]:
    """The map of the played bars (indexes), a chorus after the other; ``spelled`` are implied chords by bar index."""
    spelled = spelled or {}
    places = sorted(
        (place.first, place.last, figure.kind, number, place.label)
        for figure in figures
        for number, place in enumerate(figure.places)
    )
    lanes = _lanes([(first, last) for first, last, *_ in places])
    choruses: list[MapChorus] = []
    for chorus in sorted({line.bars[index].chorus for index in bars}):
        found = []
        for index in (index for index in bars if line.bars[index].chorus == chorus):
            segments = [
                segment
                for lane, (first, last, kind, number, label) in zip(lanes, places, strict=True)
                if (segment := _segment(line, line.bars[index], (first, last), (kind, number, label), lane))
            ]
            found.append(_map_bar(line, index, tuple(segments), spelled.get(index, "")))
        most = max((segment.lane + 1 for bar in found for segment in bar.segments), default=0)
        choruses.append(MapChorus(chorus, tuple(found), most))
    return choruses


def _lanes(places: Sequence[tuple[int, int]]) -> list[int]:
    """A lane for each place, in order of their first notes, so that no two in a lane share a note."""
    ends: list[int] = []
    lanes = []
    for first, last in places:
        lane = next((lane for lane, end in enumerate(ends) if end < first), len(ends))
        ends[lane : lane + 1] = [last]
        lanes.append(lane)
    return lanes


def _segment(
    line: Transcription, bar: Bar, notes: tuple[int, int], told: tuple[int, int, str], lane: int
) -> Segment | None:
    begin, end = line.notes[notes[0]].onset_ticks, line.notes[notes[1]].end_ticks
    bar_end = bar.onset_ticks + bar.length_ticks
    if end <= bar.onset_ticks or begin >= bar_end:
        return None
    length = max(bar.length_ticks, 1)
    kind, place, label = told
    return Segment(
        kind,
        place,
        label,
        lane,
        round(max(begin - bar.onset_ticks, 0) / length * 100, 1),
        round(min(end - bar.onset_ticks, length) / length * 100, 1),
        begin >= bar.onset_ticks,
        end <= bar_end,
    )


def _map_bar(line: Transcription, index: int, segments: tuple[Segment, ...], spelled: str) -> MapBar:
    bar = line.bars[index]
    end = bar.onset_ticks + max(bar.length_ticks, 1)
    section = next((s.label for s in line.sections if bar.onset_ticks <= s.onset_ticks < end), "")
    chords = " ".join(with_signs(c.symbol) for c in line.chords if bar.onset_ticks <= c.onset_ticks < end)
    return MapBar(index, bar_name(bar), section, chords, segments, spelled)
