"""Players for big generated corpora: what each likes to do, and the figures each falls back on.

Forty players, some with many more choruses than others. A player's habits are shares and weights drawn once: how often
a chord is entered on its root, how a next root is approached, how many eighths, triplets, rests and ghost notes, how
high and how wide. Of figures there is a stock that all share, and each player has some of his own.
"""

import random
from dataclasses import dataclass
from functools import cache, lru_cache
from itertools import accumulate
from typing import Final

from tests.generators.plants import PlantedFigure, make_figures
from tests.generators.tones import ImpossibleError, Tone, Tones, respelled

PLAYERS: Final = 40
COMMON_FIGURES: Final = 12
OWN_FIGURES: Final = 3
SHARES: Final = tuple(accumulate(1 / (place + 4) for place in range(PLAYERS)))
"""How many choruses each has, added up: the first about ten times as many as the last."""


@dataclass(frozen=True, slots=True)
class Habits:
    """What a player does: shares lie between 0 and 1, weights are for ``random.choices``.

    ``landings`` weigh root, third, fifth and sixth or seventh; ``approaches`` a half-step below, a half-step above, a
    step below, a step above, and from the fifth. ``figure_share`` is that of chord changes at which a figure begins;
    ``own_share`` that of the player's own among them, ``returns`` that of sections begun as the last of their name.
    """

    name: str
    landings: tuple[float, ...]
    approaches: tuple[float, ...]
    approach_share: float
    scale_share: float
    eighths: float
    triplets: float
    rests: float
    ghosts: float
    two_feel: float
    repeats: float
    wide: float
    centre: int
    figure_share: float
    own_share: float
    disguise_share: float
    returns: float
    figures: tuple[PlantedFigure, ...]


def _weights(source: random.Random, *usual: float) -> tuple[float, ...]:
    """Weights round the usual ones, each up to three times as large or small."""
    return tuple(weight * 3 ** source.uniform(-1, 1) for weight in usual)


@lru_cache(maxsize=PLAYERS)
def player(number: int) -> Habits:
    """One of the players; the same number gives the same habits."""
    source = random.Random(f"player {number}")
    return Habits(
        name=f"Player {number + 1}",
        landings=_weights(source, 7, 2.5, 2.5, 1.5),
        approaches=_weights(source, 4, 3, 2, 2, 2),
        approach_share=source.uniform(0.5, 0.95),
        scale_share=source.uniform(0.25, 0.75),
        eighths=source.uniform(0.02, 0.22),
        triplets=source.uniform(0, 0.03),
        rests=source.uniform(0, 0.03),
        ghosts=source.uniform(0, 0.03),
        two_feel=source.uniform(0, 0.12),
        repeats=source.uniform(0.05, 0.4),
        wide=source.uniform(0.02, 0.15),
        centre=source.randint(40, 50),
        figure_share=source.uniform(0.03, 0.12),
        own_share=source.uniform(0.2, 0.7),
        disguise_share=source.uniform(0.2, 0.6),
        returns=source.uniform(0, 0.15),
        figures=_distinct(OWN_FIGURES, f"own {number}"),
    )


def _distinct(count: int, name: str) -> tuple[PlantedFigure, ...]:
    """Figures made one by one: those of different players may have pieces in common, as in life."""
    return tuple(make_figures(1, random.Random(f"{name} figure {i}"))[0] for i in range(count))


@lru_cache(maxsize=1)
def common_stock() -> tuple[PlantedFigure, ...]:
    """The figures that all share."""
    return _distinct(COMMON_FIGURES, "common")


@cache
def placed(figure: PlantedFigure, pitch_class: int, letter: int) -> tuple[tuple[Tone, Tones], ...]:
    """A figure over a chord with this root, with the root before it, in every octave of the range."""
    semitones, letters = (pitch_class - figure.chord.pitch_class) % 12, (letter - figure.chord.letter) % 7
    found = []
    for octaves in (-2, -1, 0, 1):
        moved = [tone.moved(semitones + 12 * octaves, letters + 7 * octaves) for tone in (figure.root, *figure.tones)]
        if all(28 <= tone.pitch <= 67 for tone in moved[1:]):
            try:
                root, *rest = respelled(moved)
            except ImpossibleError:
                continue
            found.append((root, tuple(rest)))
    return tuple(found)
