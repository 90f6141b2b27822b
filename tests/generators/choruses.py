"""Choruses for corpora of any size: the same number gives the same chorus, and all numbers give different ones.

``chorus(number)`` is one chorus (of a blues two) of one of the tunes of ``tunes``, as one of the ``players`` walks
it: roots and chord tones on the changes, approaches before them, eighths, triplets, rests and ghost notes as the player
likes them, now and then a whole chorus in two, figures from the common stock and the player's own, plain or in
disguise, and sections that begin as the last one of that name began. 100,000 choruses are about ten million notes.
"""

import random
from bisect import bisect_left
from dataclasses import replace
from functools import cache, lru_cache
from itertools import accumulate
from typing import Final, NamedTuple

from corpus.form import chorus_numbers, parse_form, sections_from_form
from corpus.model import TICKS_PER_QUARTER, Bar, ChordSpan, Details, Note, Section, Transcription
from corpus.pitch import Key
from tests.generators.disguises import EASY, HARD, disguised
from tests.generators.players import PLAYERS, SHARES, Habits, common_stock, placed, player
from tests.generators.tones import HIGHEST, LOWEST, ImpossibleError, Tone, Tones, usual
from tests.generators.tunes import TUNES, Tune, tune
from tests.generators.walking import BEATS, FOUR_FOUR, Chord, beats_of, chords_in, in_octaves

_SHORT_FORM: Final = 16
_NEARNESS: Final = tuple(1 / (1 + size) ** 1.6 if 1 <= size <= 12 else 0.0 for size in range(HIGHEST - LOWEST + 1))
_WORN: Final = tuple(name for name in (*EASY, *HARD) if name != "exact")
_QUARTER, _HALF = TICKS_PER_QUARTER, TICKS_PER_QUARTER // 2
_APPROACHES: Final = ((-1, -1), (1, 1), (-2, -1), (2, 1), (7, 4))


class _Chart(NamedTuple):
    """A tune ready to be played: what does not change from chorus to chorus."""

    tune: Tune
    beats: tuple[tuple[Chord, bool], ...]
    bars: tuple[Bar, ...]
    chords: tuple[ChordSpan, ...]
    sections: tuple[Section, ...]
    details: Details


@lru_cache(maxsize=TUNES)
def _chart(number: int) -> _Chart:
    of = tune(number)
    form, key, length = parse_form(of.progression.form), Key(of.tonic, of.mode), FOUR_FOUR.bar_ticks
    choruses = 2 if form.bars < _SHORT_FORM else 1
    chords = chords_in(of.progression, of.tonic) * choruses
    plain = tuple(Bar(i + 1, 1, i * length, length, 0, FOUR_FOUR, 1, key) for i in range(len(chords)))
    bars = tuple(replace(bar, chorus=chorus) for bar, chorus in zip(plain, chorus_numbers(plain, form), strict=True))
    spans = tuple(
        ChordSpan(chord.symbol, i * length + j * length // len(bar), i * length + (j + 1) * length // len(bar))
        for i, bar in enumerate(chords)
        for j, chord in enumerate(bar)
    )
    details = Details(
        title=of.title, instrument="Double bass", key=key, meter=FOUR_FOUR, form=form, tempo_bpm=of.tempo_bpm
    )
    return _Chart(of, tuple(beats_of(chords)), bars, spans, sections_from_form(bars, form), details)


@cache
def _tones(chord: Chord, which: str) -> tuple[Tone, ...]:
    """Notes of the range: those of the chord's scale, its chord tones, or one of those by number."""
    if which == "scale":
        chosen = chord.scale()
    elif which == "chord":
        chosen = chord.chord_tones()
    else:
        chosen = (chord.chord_tones()[int(which)],)
    return tuple(tone for each in chosen for tone in in_octaves(each))


@lru_cache(maxsize=100_000)
def _drawn(chord: Chord, which: str, last: int, centre: int, wide: float) -> tuple[tuple[Tone, ...], list[float]]:
    """Notes of the range with their weights, added up: the nearer to the last and to the centre, the likelier."""
    tones = _tones(chord, which)
    weights = [(_NEARNESS[abs(tone.pitch - last)] + 0.001 * wide) / (6 + abs(tone.pitch - centre)) for tone in tones]
    return tones, list(accumulate(weights))


@cache
def _spelling(pitch: int, position: int) -> str:
    tone = Tone(pitch, position, 0, 0)
    return tone.spelling if abs(tone.alteration) <= 2 else usual(pitch, 0, 0).spelling


class _Band:
    """One chorus while it is played."""

    def __init__(self, chart: _Chart, habits: Habits, source: random.Random) -> None:
        self._chart, self._habits, self._source = chart, habits, source
        self._notes: list[Tone] = []
        self._ghosts: set[int] = set()
        self._last = Tone(habits.centre, 0, 0, 0)
        self._target: Tone | None = None

    def play(self) -> None:
        """All beats of the chart."""
        begins = {section.onset_ticks // _QUARTER: section.label for section in self._chart.sections}
        seen: dict[str, int] = {}
        beat = 0
        in_two = self._source.random() < self._habits.two_feel
        while beat < len(self._chart.beats):
            label = begins.get(beat)
            if label is not None:
                if label in seen and self._source.random() < self._habits.returns:
                    beat += self._returned(seen[label], beat)
                    continue
                seen[label] = beat
            beat += self._stretch(beat, in_two)

    def _stretch(self, beat: int, in_two: bool) -> int:
        """Something from a beat on; how many beats it takes."""
        chord, is_first = self._chart.beats[beat]
        if is_first and beat and self._source.random() < self._habits.figure_share:
            taken = self._figure(chord, beat)
            if taken:
                return taken
        tone = self._next(chord, beat, is_first)
        if in_two and beat % 2 == 0 and self._source.random() < 0.85:
            self._strike(tone, beat * _QUARTER, 2 * _QUARTER)
            return 2
        return self._one_beat(chord, tone, beat)

    def _next(self, chord: Chord, beat: int, is_first: bool) -> Tone:
        """The note of a beat: where the chord is entered, what leads to the next one, or something between."""
        source, habits = self._source, self._habits
        if self._target is not None:
            tone, self._target = self._target, None
            return tone
        if is_first:
            return self._landing(chord)
        following = beat + 1
        if following < len(self._chart.beats) and self._chart.beats[following][1]:
            if source.random() < habits.approach_share:
                self._target = self._landing(self._chart.beats[following][0])
                ways = [self._target.moved(*by) for by in _APPROACHES]
                weights = [
                    weight if LOWEST <= way.pitch <= HIGHEST and abs(way.pitch - self._last.pitch) <= 12 else 0.0
                    for way, weight in zip(ways, habits.approaches, strict=True)
                ]
                if any(weights):
                    return source.choices(ways, weights)[0]
        elif source.random() < habits.repeats * 0.2:
            return self._last
        return self._near(chord, "scale" if source.random() < habits.scale_share else "chord")

    def _landing(self, chord: Chord) -> Tone:
        which = self._source.choices("0123", self._habits.landings)[0]
        return self._near(chord, which)

    def _near(self, chord: Chord, which: str) -> Tone:
        """A note of a chord's scale, or one of its tones: the nearer to the last and to the centre, the likelier."""
        tones, weights = _drawn(chord, which, self._last.pitch, self._habits.centre, self._habits.wide)
        return self._source.choices(tones, cum_weights=weights)[0]

    def _one_beat(self, chord: Chord, tone: Tone, beat: int) -> int:
        """A quarter note, or what the player puts in its place; how many beats it takes."""
        source, habits, tick = self._source, self._habits, beat * _QUARTER
        chance = source.random()
        if chance < habits.eighths:
            self._strike(tone, tick, _HALF)
            if source.random() < 0.15 and beat % BEATS < 2 and not self._chart.beats[beat + 1][1]:
                # A dotted quarter and an eighth.
                self._notes[-1] = self._notes[-1]._replace(duration_ticks=3 * _HALF)
                self._strike(self._second(chord, tone), tick + 3 * _HALF, _HALF)
                return 2
            self._strike(self._second(chord, tone), tick + _HALF, _HALF)
        elif chance < habits.eighths + habits.triplets:
            third = _QUARTER // 3
            for i in range(3):
                self._strike(tone if i == 0 else self._second(chord, self._last), tick + i * third, third)
        elif chance < habits.eighths + habits.triplets + habits.rests and self._notes and not self._target:
            pass
        else:
            self._strike(tone, tick, _QUARTER)
            if source.random() < habits.ghosts:
                self._ghosts.add(len(self._notes) - 1)
        return 1

    def _second(self, chord: Chord, tone: Tone) -> Tone:
        """The weaker half of a beat: the note again, its octave, or a chord tone near by."""
        chance = self._source.random()
        if chance < self._habits.repeats:
            return tone
        if chance < self._habits.repeats + 0.25:
            return tone.moved(-12, -7) if tone.pitch - 12 >= LOWEST else tone.moved(12, 7)
        return self._near(chord, "chord")

    def _strike(self, tone: Tone, tick: int, duration: int) -> None:
        self._notes.append(tone._replace(onset_ticks=tick, duration_ticks=duration))
        self._last = tone

    def _figure(self, chord: Chord, beat: int) -> int:
        """A figure over a chord that begins here; how many beats it takes, 0 where none fits."""
        habits, source = self._habits, self._source
        stock = habits.figures if source.random() < habits.own_share else common_stock()
        fitting = [figure for figure in stock if figure.chord.kind == chord.kind]
        if not fitting:
            return 0
        ways = placed(source.choice(fitting), chord.pitch_class, chord.letter)
        if not ways:
            return 0
        weights = [1 / (1 + abs(way[0].pitch - self._last.pitch)) for _, way in ways]
        root, tones = source.choices(ways, weights)[0]
        tones = self._dressed(root, tones)
        beats = -(-tones[-1].end_ticks // _QUARTER)
        if beat + beats > len(self._chart.beats):
            return 0
        for tone in tones:
            self._strike(tone, beat * _QUARTER + tone.onset_ticks, tone.duration_ticks)
        self._target = None
        return beats

    def _dressed(self, root: Tone, tones: Tones) -> Tones:
        if self._source.random() < self._habits.disguise_share:
            try:
                return disguised(tones, root, (self._source.choice(_WORN),), self._source)
            except ImpossibleError:
                return tones
        return tones

    def _returned(self, before: int, beat: int) -> int:
        """Two bars or four as they were played from another beat on; how many beats they take."""
        beats = BEATS * self._source.choice((2, 4))
        begin = bisect_left(self._notes, before * _QUARTER, key=lambda tone: tone.onset_ticks)
        end = bisect_left(self._notes, (before + beats) * _QUARTER, key=lambda tone: tone.onset_ticks)
        again = [tone for tone in self._notes[begin:end] if tone.end_ticks <= (before + beats) * _QUARTER]
        for tone in again:
            self._strike(tone, tone.onset_ticks + (beat - before) * _QUARTER, tone.duration_ticks)
        self._target = None
        return beats

    def transcription(self, number: int) -> Transcription:
        """What was played."""
        length = FOUR_FOUR.bar_ticks
        notes = tuple(
            Note(
                tone.onset_ticks,
                tone.duration_ticks,
                tone.pitch,
                _spelling(tone.pitch, tone.position),
                tone.onset_ticks // length,
                i in self._ghosts,
            )
            for i, tone in enumerate(self._notes)
        )
        chart = self._chart
        details = replace(chart.details, player=self._habits.name, year=1950 + number % 70)
        return Transcription(
            details=details, notes=notes, bars=chart.bars, chords=chart.chords, sections=chart.sections
        )


def chorus(number: int) -> Transcription:
    """A chorus of about a hundred notes; cost: about a millisecond."""
    source = random.Random(f"chorus {number}")
    who = source.choices(range(PLAYERS), cum_weights=SHARES)[0]
    band = _Band(_chart(source.randrange(TUNES)), player(who), source)
    band.play()
    return band.transcription(number)
