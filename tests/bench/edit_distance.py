"""Plain edit distance for comparison: how few notes must be changed, added or left out, each at the price of one.

edlib (Šošić and Šikić, *Bioinformatics* 33(9), 2017) computes it bit-parallel. Its infix mode finds the stretch of a
tune that is nearest to the figure, whatever stands before and after. It is given two chances: pitches over all
transpositions, where a wrong note costs 1 and the transposition nothing, and semitones between neighbours, which know
no transposition but pay twice for a wrong note.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any, Final

from corpus.match.figure import Figure
from db.catalogue import load_many
from db.connection import Database

_NO_PITCH: Final = 255
"""The byte of a dead note, and of a pitch outside MIDI's numbers."""
TRANSPOSITIONS: Final = range(-24, 25)
"""Semitones: two octaves up and down."""


def text_of(pitches: Sequence[int | None]) -> bytes:
    """Pitches as text, one byte a note."""
    return bytes(_NO_PITCH if pitch is None or not 0 <= pitch < 128 else pitch for pitch in pitches)


def intervals_of(text: bytes) -> bytes:
    """The semitones between the neighbours of a text of pitches, as text."""
    return bytes((b - a) % 256 for a, b in pairwise(text))


def pitches_of(figure: Figure) -> Sequence[int]:
    """The pitches of a figure that has some."""
    assert figure.pitches is not None
    return figure.pitches


@dataclass(frozen=True)
class Texts:
    """The pitches of every tune, by ID."""

    pitches: Mapping[int, bytes]

    @cached_property
    def intervals(self) -> dict[int, bytes]:
        """The semitones between neighbours of every tune, by ID."""
        return {identity: intervals_of(text) for identity, text in self.pitches.items()}

    @cached_property
    def _has_pitch(self) -> Any:
        import numpy as np

        table = np.zeros((len(self.pitches), 256), dtype=bool)
        for row, text in enumerate(self.pitches.values()):
            table[row, list(set(text) - {_NO_PITCH})] = True
        return table

    def fewest_missing(self, pitches: Sequence[int]) -> Any:
        """For each transposition and tune, how many notes of a figure have a pitch that stands nowhere in the tune.

        No edit distance is smaller. Pitches outside MIDI's numbers are missing everywhere.
        """
        import numpy as np

        columns = np.array(pitches)[None, :] + np.array(TRANSPOSITIONS)[:, None]
        columns = np.where((columns < 0) | (columns >= 128), _NO_PITCH, columns)
        return np.stack([(~self._has_pitch[:, row]).sum(axis=1) for row in columns])


def texts_of(database: Database) -> Texts:
    """The texts of a whole database."""
    with database.reading() as connection:
        ids = [row[0] for row in connection.exec_driver_sql("SELECT id FROM transcription ORDER BY id")]
        return Texts(
            {
                identity: text_of([note.pitch for note in line.notes])
                for identity, line in load_many(connection, ids)
                if line.notes
            }
        )


def pitch_distances(texts: Texts, figure: Figure) -> dict[int, float]:
    """The edit distance of the pitches of a figure, at the best transposition, to the nearest stretch of each tune.

    Transpositions are tried from the most promising one; those that cannot be better than the best are left out.
    """
    import edlib
    import numpy as np

    pitches = pitches_of(figure)
    wanted = [text_of([pitch + shift for pitch in pitches]) for shift in TRANSPOSITIONS]
    missing = texts.fewest_missing(pitches)
    orders = np.argsort(missing, axis=0, kind="stable").T.tolist()
    bounds = missing.T.tolist()
    distances: dict[int, float] = {}
    for (identity, text), order, bound in zip(texts.pitches.items(), orders, bounds, strict=True):
        best = len(pitches)
        for shift in order:
            if bound[shift] >= best:
                break
            found = edlib.align(wanted[shift], text, mode="HW", task="distance", k=best - 1)["editDistance"]
            if found >= 0:
                best = found
        distances[identity] = best
    return distances


def interval_distances(texts: Texts, figure: Figure) -> dict[int, float]:
    """The edit distance of the intervals of a figure to the nearest stretch of each tune."""
    import edlib

    wanted = intervals_of(text_of(pitches_of(figure)))
    return {
        identity: edlib.align(wanted, text, mode="HW", task="distance")["editDistance"] if text else len(wanted)
        for identity, text in texts.intervals.items()
    }
