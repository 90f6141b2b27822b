"""What may be done to a figure so that it is still itself: one function for each disguise.

=========== ===========================================================================================================
exact       nothing: the same notes at the same pitch
transposed  the same notes higher or lower
octave      one note, two, or all notes up to or from some note an octave higher or lower; the others stay
doubled     each note struck twice, each time in its full length
stretched   all lengths doubled
ornamented  one ornament put in, in the time of the note before it: a passing note, a neighbour and back, an enclosure
            (one note above and one below the next), or an approach by half-step or step
altered     one note a half-step higher or lower on its letter (a third lowered, a ninth raised)
cut         the first or the last note missing; of eight notes or more two
mode        the third, sixth and seventh above the root lowered where they are major, or raised where they are minor
=========== ===========================================================================================================

The meanings are those of near search (``corpus.match.prices``); the tests prove each by ``corpus.match``. Each function
takes the notes at the pitch where they are to stand, the pitch of their root (its octave does not matter), and a source
of chance; it raises ImpossibleError where nothing of the kind can be done. Only ``doubled`` makes a note that repeats
the one before. All stay within the range, and none is moved to another octave to make it so.
"""

import random
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import Final

from tests.generators.tones import ImpossibleError, Tone, Tones, is_playable, usual

EASY: Final = ("exact", "transposed", "octave", "doubled", "stretched")
HARD: Final = ("ornamented", "altered", "cut", "mode")

Disguise = Callable[[Tones, Tone, random.Random], Tones]

_LETTERS_OF_MODE: Final = (2, 5, 6)
_MAJOR: Final = {2: 4, 5: 9, 6: 11}
_OCTAVES: Final = ((12, 7), (-12, -7))


def same(tones: Tones, root: Tone, source: random.Random) -> Tones:
    """No change at all."""
    return tones


def octave(tones: Tones, root: Tone, source: random.Random) -> Tones:
    """Some notes, but not all, an octave higher or lower."""
    count = len(tones)
    one = [{i} for i in range(count)]
    two = [{i, j} for i in range(count) for j in range(i + 1, count)]
    ends = [set(range(i, count)) for i in range(2, count - 1)] + [set(range(i)) for i in range(2, count - 1)]
    ways = [
        [
            tuple(tone.moved(*by) if i in displaced else tone for i, tone in enumerate(tones))
            for displaced in group
            for by in _OCTAVES
        ]
        for group in (one, two, ends)
    ]
    return _one_of(ways, source)


def doubled(tones: Tones, root: Tone, source: random.Random) -> Tones:
    """Each note struck twice in its full length."""
    return tuple(
        tone._replace(onset_ticks=2 * tone.onset_ticks + again * tone.duration_ticks)
        for tone in tones
        for again in (0, 1)
    )


def stretched(tones: Tones, root: Tone, source: random.Random) -> Tones:
    """Each length doubled."""
    return tuple(
        tone._replace(onset_ticks=2 * tone.onset_ticks, duration_ticks=2 * tone.duration_ticks) for tone in tones
    )


def ornamented(tones: Tones, root: Tone, source: random.Random) -> Tones:
    """One ornament between two different notes."""
    kinds = (_passing, _neighbour, _enclosure, _approach)
    ways: list[list[Tones]] = []
    for kind in kinds:
        ways.append([])
        for i, (before, after) in enumerate(pairwise(tones)):
            if before.pitch == after.pitch or (kind is _neighbour and i == 0):
                # Back on its first note, the whole figure would follow.
                continue
            for pitches in kind(before, after):
                put_in = _sharing(before, pitches)
                # Checked alone: elsewhere notes may have been struck twice before.
                if is_playable((*put_in, after)):
                    ways[-1].append((*tones[:i], *put_in, *tones[i + 1 :]))
    return _drawn(ways, source)


def _passing(before: Tone, after: Tone) -> list[list[int]]:
    """One note between two, a step from one of them at least, and a third from the other at most."""
    low, high = sorted((before.pitch, after.pitch))
    between = range(low + 1, high)
    return [[pitch] for pitch in between if min(pitch - low, high - pitch) <= 2 and max(pitch - low, high - pitch) <= 4]


def _neighbour(before: Tone, after: Tone) -> list[list[int]]:
    """A step away and back."""
    return [[before.pitch + step, before.pitch] for step in (-2, -1, 1, 2)]


def _enclosure(before: Tone, after: Tone) -> list[list[int]]:
    """One note above and one below the next, each within a step of it."""
    return [
        [after.pitch + side * first, after.pitch - side * second]
        for side in (1, -1)
        for first in (1, 2)
        for second in (1, 2)
    ]


def _approach(before: Tone, after: Tone) -> list[list[int]]:
    """A note within a step of the next, that does not lie between the two."""
    sign = 1 if after.pitch > before.pitch else -1
    return [[after.pitch + sign * step] for step in (1, 2)]


def _sharing(before: Tone, pitches: Sequence[int]) -> Tones:
    """A note and those put in after it, in the time of the note alone."""
    share, rest = divmod(before.duration_ticks, len(pitches) + 1)
    assert rest == 0
    added = [usual(pitch, before.onset_ticks + i * share, share) for i, pitch in enumerate(pitches, start=1)]
    # A neighbour goes back to the note on its own letter.
    named = [tone._replace(position=before.position) if tone.pitch == before.pitch else tone for tone in added]
    return (before._replace(duration_ticks=share), *named)


def altered(tones: Tones, root: Tone, source: random.Random) -> Tones:
    """One note a half-step away on its letter."""
    ways = [(*tones[:i], tone.moved(by, 0), *tones[i + 1 :]) for i, tone in enumerate(tones) for by in (-1, 1)]
    return _one_of([ways], source)


def cut(tones: Tones, root: Tone, source: random.Random) -> Tones:
    """Without the first or the last note, or two of them; the others keep their places in time."""
    missing = 2 if len(tones) >= 8 else 1
    if len(tones) - missing < 4:
        raise ImpossibleError("too short to be cut")
    return _one_of([[tones[missing:], tones[:-missing]]], source)


def mode(tones: Tones, root: Tone, source: random.Random) -> Tones:
    """The other mode: all major thirds, sixths and sevenths above the root minor, or all minor ones major."""
    found = []
    for by, wanted in ((-1, 0), (1, -1)):
        way = tuple(tone.moved(by, 0) if _away_from_major(tone, root) == wanted else tone for tone in tones)
        if way != tones:
            found.append(way)
    return _one_of([found[:1]], source)


def _away_from_major(tone: Tone, root: Tone) -> int | None:
    """Semitones above the major third, sixth or seventh of the root, None for a note on another letter."""
    letter = (tone.position - root.position) % 7
    if letter not in _LETTERS_OF_MODE:
        return None
    return (tone.pitch - root.pitch - _MAJOR[letter] + 6) % 12 - 6


def _one_of(groups: Sequence[Sequence[Tones]], source: random.Random) -> Tones:
    """A playable way out of a group, each group as likely."""
    return _drawn([[way for way in group if is_playable(way)] for group in groups], source)


def _drawn(groups: Sequence[Sequence[Tones]], source: random.Random) -> Tones:
    possible = [group for group in groups if group]
    if not possible:
        raise ImpossibleError("nothing of the kind can be done to these notes")
    return source.choice(source.choice(possible))


DISGUISES: Final[dict[str, Disguise]] = {
    "exact": same,
    "transposed": same,
    "mode": mode,
    "altered": altered,
    "cut": cut,
    "octave": octave,
    "ornamented": ornamented,
    "doubled": doubled,
    "stretched": stretched,
}
"""In the order in which several are put on. Where a figure stands, and so its transposition, is not decided here."""


def disguised(tones: Tones, root: Tone, names: Sequence[str], source: random.Random) -> Tones:
    """Tones with disguises put on, in the order of ``DISGUISES``.

    Raises ImpossibleError, and ValueError for an unknown name.
    """
    for name in sorted(names, key=list(DISGUISES).index):
        tones = DISGUISES[name](tones, root, source)
    return tones
