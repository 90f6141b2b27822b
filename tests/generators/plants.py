"""A corpus in which it is known what recurs: figures planted, in disguise, into walking lines.

``planted`` makes figures of five to eight notes over one kind of chord each, and plants them until they fill the share
of the beats that was asked for (``density``). Each figure stands first as it was made; after that it is left plain or
wears disguises (``tests.generators.disguises``). All but the exact ones are transposed to the root of the chord over
which they stand, mostly one of the kind they were made for. Then ``noise`` moves notes, planted or not, by a half-step
or step, as an ear mishears them.

No two figures share three intervals in a row (octaves aside) or four letter steps, none holds such a piece twice, and
none is a mere run. Figures are at least a note apart, so that nothing travels with them. What stands in the walking
lines by accident, note for note at any pitch, is told as an occurrence too.
"""

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from corpus.model import TICKS_PER_QUARTER, Transcription
from tests.generators.disguises import DISGUISES, disguised
from tests.generators.disguises import mode as other_mode
from tests.generators.tones import (
    HIGHEST,
    LOWEST,
    ImpossibleError,
    Tone,
    Tones,
    intervals,
    is_playable,
    later,
    respelled,
    usual,
)
from tests.generators.walking import (
    BEATS,
    KEYS,
    PROGRESSIONS,
    Chord,
    Progression,
    Walker,
    beats_of,
    chords_in,
    in_octaves,
    line_over,
)

PLAIN: Final = 0.4
"""The share of occurrences that wear no disguise, beside the first."""
_TRIES: Final = 200
_WIDEST: Final = 14
_KINDS: Final = ("m7", "7", "maj7")
_ROOTS: Final = ((0, 0), (5, 3), (10, 6), (3, 2), (7, 4))
"""Where figures are made: C, F, Bb, Eb, G."""


@dataclass(frozen=True, slots=True)
class PlantedFigure:
    """A figure as it was made: its tones from tick 0, and the chord it was made over."""

    tones: Tones
    chord: Chord

    @property
    def root(self) -> Tone:
        """The root of its chord."""
        return self.chord.tone(0, 0)

    @property
    def intervals(self) -> tuple[int, ...]:
        """Semitones between its notes."""
        return intervals(self.tones)


Occurrence = tuple[int, tuple[int, ...]]
"""The number of a line, and of all notes from the first to the last, those put in between included."""


@dataclass(frozen=True, slots=True)
class PlantedCorpus:
    """Lines, and what was planted in them.

    ``families[i]`` are the occurrences of ``figures[i]``, the plain first one before all others; ``dresses[i]`` what
    each wears (nothing for a plain one, ``accident`` for one that was not planted).
    """

    lines: list[Transcription]
    figures: list[PlantedFigure]
    families: list[list[Occurrence]]
    dresses: list[list[tuple[str, ...]]]


@dataclass(slots=True)
class _Ground:
    """One line before it has notes: its harmony beat by beat, and what is planted where."""

    progression: Progression
    tonic: str
    beats: list[tuple[Chord, bool]]
    taken: list[bool]
    plants: list[tuple[int, Tones, tuple[str, ...]]]

    def has_room(self, begin: int, length: int) -> bool:
        """Whether beats are free, and one before and after them."""
        return begin >= 1 and begin + length < len(self.beats) and not any(self.taken[begin - 1 : begin + length + 1])


def planted(
    seed: int,
    lines: int = 12,
    choruses: int = 2,
    figures: int = 6,
    density: float = 0.25,
    noise: float = 0.0,
    changes: int = 1,
    disguises: Sequence[str] = ("exact",),
    plain: float = PLAIN,
) -> PlantedCorpus:
    """A corpus with plants; the same seed gives the same one.

    ``density`` is the share of the beats that figures fill, ``noise`` the share of the notes that are moved,
    ``changes`` how many of the ``disguises`` an occurrence wears at once. Without ``figures`` nothing is planted.
    Raises ValueError for an unknown disguise, and where there is not room enough for each figure to stand twice.
    """
    unknown = set(disguises) - DISGUISES.keys()
    if unknown or not disguises:
        raise ValueError(f"unknown disguises {sorted(unknown)}: some of {', '.join(DISGUISES)}")
    if not 1 <= changes <= len(set(disguises)):
        raise ValueError(f"{changes} changes at once need as many disguises, of which there are {len(set(disguises))}")
    source = random.Random(f"{seed}")
    made = make_figures(figures, source)
    grounds = [_ground(i, choruses, source) for i in range(lines)]
    _plant(made, grounds, density, _Wardrobe(tuple(dict.fromkeys(disguises)), changes, plain), source)
    found: list[list[tuple[Occurrence, tuple[str, ...]]]] = [[] for _ in made]
    written = []
    ear = random.Random(f"{seed} ear")
    for number, ground in enumerate(grounds):
        tones, places = _written(ground, source)
        for which, notes, dress in places:
            found[which].append(((number, notes), dress))
        heard = tuple(_misheard(tones, noise, ear))
        written.append(
            line_over(
                ground.progression, ground.tonic, choruses, heard, f"Study {number + 1}", f"Player {number % 4 + 1}"
            )
        )
    for figure, places_found in zip(made, found, strict=True):
        places_found.extend(
            (place, ("accident",)) for place in _accidents(figure, written, [p for p, _ in places_found])
        )
        # The first as it was made leads.
        first = next(i for i, (_, dress) in enumerate(places_found) if dress == ())
        places_found.insert(0, places_found.pop(first))
    return PlantedCorpus(
        written,
        made,
        [[place for place, _ in family] for family in found],
        [[dress for _, dress in family] for family in found],
    )


def make_figures(count: int, source: random.Random) -> list[PlantedFigure]:
    """Figures that have nothing in common. Raises ValueError where so many cannot be made."""
    made: list[PlantedFigure] = []
    pieces: set[tuple[int, ...]] = set()
    letter_pieces: set[tuple[int, ...]] = set()
    failed = 0
    while len(made) < count:
        if failed == _TRIES:
            raise ValueError(f"{count} figures that have nothing in common are too many: {len(made)} were made")
        failed += 1
        figure = _random_figure(source)
        if figure is None:
            continue
        own, own_letters = _pieces(figure.tones)
        if len(set(own)) == len(own) and not pieces.intersection(own) and not letter_pieces.intersection(own_letters):
            made.append(figure)
            failed = 0
            pieces.update(own)
            letter_pieces.update(own_letters)
    return made


def _pieces(tones: Tones) -> tuple[list[tuple[int, ...]], list[tuple[int, ...]]]:
    """Three intervals in a row, octaves aside; four letter steps in a row, octaves aside."""
    folded = [size % 12 for size in intervals(tones)]
    letters = [(after.position - before.position) % 7 for before, after in pairwise(tones)]
    return (
        [tuple(folded[i : i + 3]) for i in range(len(folded) - 2)],
        [tuple(letters[i : i + 4]) for i in range(len(letters) - 3)],
    )


def _random_figure(source: random.Random) -> PlantedFigure | None:
    """A figure, or None where what came up is not worth being one."""
    chord = Chord(*source.choice(_ROOTS), source.choice(_KINDS))
    scale, chord_tones = chord.scale(), chord.chord_tones()
    tones = [source.choice(chord_tones).moved(-24, -14)]
    count = source.choice((5, 6, 6, 7, 7, 8))
    while len(tones) < count:
        chromatic = tuple(usual(tone.pitch + by, 0, 0) for tone in scale for by in (-1, 1))
        pool = [tone for each in source.choice((scale, chord_tones, chromatic)) for tone in in_octaves(each)]
        away = [abs(tone.pitch - tones[-1].pitch) for tone in pool]
        near = [0 if size == 0 else 1 / (1 + size) ** 2 for size in away]
        tones.append(source.choices(pool, near)[0])
    timed = _timed(tones, source)
    sizes = intervals(timed)
    turns = sum((a > 0) != (b > 0) for a, b in pairwise(sizes))
    pitches = [tone.pitch for tone in timed]
    if (
        not is_playable(timed)
        or max(pitches) - min(pitches) > _WIDEST
        or max(abs(size) for size in sizes) > 9
        or turns < 2
        or sum(abs(size) >= 3 for size in sizes) < 2
        or len(set(pitches)) < 4
    ):
        return None
    try:
        other_mode(timed, chord.tone(0, 0), source)
    except ImpossibleError:
        return None
    return PlantedFigure(timed, chord)


def _timed(tones: Sequence[Tone], source: random.Random) -> Tones:
    """Quarter notes, in one figure of four with two eighths among them."""
    eighths = source.randrange(len(tones) - 1) if source.random() < 0.25 else None
    timed, tick = [], 0
    for i, tone in enumerate(tones):
        ticks = TICKS_PER_QUARTER // 2 if eighths is not None and i in (eighths, eighths + 1) else TICKS_PER_QUARTER
        timed.append(tone._replace(onset_ticks=tick, duration_ticks=ticks))
        tick += ticks
    return tuple(timed)


def _ground(number: int, choruses: int, source: random.Random) -> _Ground:
    progression, tonic = PROGRESSIONS[number % len(PROGRESSIONS)], source.choice(KEYS)
    beats = beats_of(chords_in(progression, tonic) * choruses)
    return _Ground(progression, tonic, beats, [False] * len(beats), [])


@dataclass(frozen=True, slots=True)
class _Wardrobe:
    """What occurrences may wear."""

    disguises: tuple[str, ...]
    changes: int
    plain: float

    def drawn(self, is_first: bool, source: random.Random) -> tuple[str, ...]:
        """What the next occurrence wears."""
        if is_first or source.random() < self.plain:
            return ()
        names = source.sample(self.disguises, self.changes)
        return tuple(name for name in DISGUISES if name in names)

    @property
    def stays_at_pitch(self) -> bool:
        """Whether nothing but exact occurrences is wanted: then plain ones are not transposed either."""
        return self.disguises == ("exact",)


def _plant(
    figures: Sequence[PlantedFigure],
    grounds: Sequence[_Ground],
    density: float,
    wardrobe: _Wardrobe,
    source: random.Random,
) -> None:
    """Plants figures in turn until they fill their share of the beats."""
    wanted = density * sum(len(ground.beats) for ground in grounds) if figures else 0
    filled, count = 0, 0
    while filled < wanted:
        which = count % len(figures)
        dress = wardrobe.drawn(count < len(figures), source)
        at_pitch = count < len(figures) or wardrobe.stays_at_pitch or "exact" in dress
        filled += _plant_one(which, figures[which], dress, at_pitch, grounds, source)
        count += 1
    if count < 2 * len(figures):
        raise ValueError(f"density {density:g} leaves room for {count} occurrences of {len(figures)} figures: too few")


def _plant_one(
    which: int,
    figure: PlantedFigure,
    dress: tuple[str, ...],
    at_pitch: bool,
    grounds: Sequence[_Ground],
    source: random.Random,
) -> int:
    """Plants a figure somewhere; the beats it fills. Raises ValueError where there is no room left."""
    for _ in range(_TRIES):
        ground = source.choice(grounds)
        for begin in _starts(ground, figure, at_pitch, source):
            try:
                tones = _set_down(figure, ground.beats[begin][0], dress, at_pitch, source)
            except ImpossibleError:
                break
            length = -(-tones[-1].end_ticks // TICKS_PER_QUARTER)
            if ground.has_room(begin, length):
                ground.taken[begin : begin + length] = [True] * length
                # The number of the figure travels with its dress until the line is written.
                ground.plants.append((begin, tones, (str(which), *dress)))
                return length
            break
    raise ValueError("there is no room left for more figures: ask for a lower density")


def _starts(ground: _Ground, figure: PlantedFigure, at_pitch: bool, source: random.Random) -> Iterator[int]:
    """A beat to begin on: that of a chord of the figure's kind if there is one free, mostly; else any first beat."""
    bars = [beat for beat in range(BEATS, len(ground.beats), BEATS) if not ground.taken[beat]]
    halves = [beat + BEATS // 2 for beat in bars]
    firsts = [beat for beat in bars + halves if ground.beats[beat][1]] if source.random() < 0.9 else bars + halves
    fitting = [
        beat
        for beat in firsts
        if (ground.beats[beat][0] == figure.chord if at_pitch else ground.beats[beat][0].kind == figure.chord.kind)
    ]
    choice = fitting if fitting and source.random() < 0.8 else firsts
    if choice:
        yield source.choice(choice)


def _set_down(
    figure: PlantedFigure, chord: Chord, dress: tuple[str, ...], at_pitch: bool, source: random.Random
) -> Tones:
    """The tones of an occurrence over a chord, counted from the beat where the figure begins."""
    tones, root = figure.tones, figure.root
    if not at_pitch:
        semitones = (chord.pitch_class - figure.chord.pitch_class) % 12
        letters = (chord.letter - figure.chord.letter) % 7
        moved = [
            tuple(tone.moved(semitones + 12 * k, letters + 7 * k) for tone in (root, *tones)) for k in (-2, -1, 0, 1)
        ]
        possible = [way for way in moved if all(LOWEST <= tone.pitch <= HIGHEST for tone in way[1:])]
        if "transposed" in dress:
            possible = [way for way in possible if way[1].pitch != tones[0].pitch]
        if not possible:
            raise ImpossibleError("no other place within the range")
        root, *rest = respelled(source.choice(possible))
        tones = tuple(rest)
    return disguised(tones, root, dress, source)


def _written(
    ground: _Ground, source: random.Random
) -> tuple[Tones, list[tuple[int, tuple[int, ...], tuple[str, ...]]]]:
    """All tones of a line, and for each plant its figure, the numbers of its notes, and what it wears."""
    walker = Walker(ground.beats, source)
    tones: list[Tone] = []
    places = []
    beat = 0
    for begin, plant, (which, *dress) in sorted(ground.plants):
        set_down = later(plant, begin * TICKS_PER_QUARTER)
        first_beat = set_down[0].onset_ticks // TICKS_PER_QUARTER
        tones.extend(walker.walk(beat, first_beat, tones[-1] if tones else None, set_down[0]))
        places.append((int(which), tuple(range(len(tones), len(tones) + len(set_down))), tuple(dress)))
        tones.extend(set_down)
        beat = -(-set_down[-1].end_ticks // TICKS_PER_QUARTER)
    tones.extend(walker.walk(beat, len(ground.beats), tones[-1] if tones else None, None))
    return tuple(tones), places


def _misheard(tones: Tones, noise: float, source: random.Random) -> Iterator[Tone]:
    """Tones, some of them a half-step or step off."""
    for tone in tones:
        if source.random() >= noise:
            yield tone
            continue
        pitch = tone.pitch + source.choice((-2, -1, 1, 2))
        yield usual(pitch, tone.onset_ticks, tone.duration_ticks)


def _accidents(
    figure: PlantedFigure, lines: Sequence[Transcription], known: Sequence[Occurrence]
) -> Iterator[Occurrence]:
    """Where a figure stands note for note at any pitch, though it was not planted there."""
    planted_notes = {(line, note) for line, notes in known for note in notes}
    count = len(figure.tones)
    for number, line in enumerate(lines):
        pitches = [note.pitch or 0 for note in line.notes]
        sizes = [after - before for before, after in pairwise(pitches)]
        first = 0
        while first + count <= len(pitches):
            stretch = tuple(range(first, first + count))
            is_known = 2 * sum((number, note) in planted_notes for note in stretch) > count
            if tuple(sizes[first : first + count - 1]) == figure.intervals and not is_known:
                yield number, stretch
                first += count
            else:
                first += 1
