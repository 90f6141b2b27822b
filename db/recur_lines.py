"""All selected lines as columns for discovery, with what stands around each note: beat, role, section.

Read from the readings' texts and the packed columns; no line is unpacked into notes.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

import sqlalchemy as sa

from corpus.match.sought import SYMBOLS, Alphabet
from corpus.model import TICKS_PER_QUARTER
from corpus.readings import BREAK, SIGNED_SYMBOLS
from db.catalogue import Selection
from db.near import NearLines
from db.packing import note_places

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Classes = NDArray[np.uint8]
    Flags = NDArray[np.bool_]

_REPEAT: Final = SIGNED_SYMBOLS[0]
_CLASSES_A_QUARTER: Final = 4
_LAST_CLASS: Final = 63


@dataclass(frozen=True)
class RecurLines:
    """Columns of lines, their IDs, and what discovery asks about their notes, an entry a place of the columns.

    ``firsts`` and ``lasts`` are, for each line, the notes that its entries stand for: a note and its repeats.
    """

    lines: NearLines
    beats: "Classes"
    roles: "Classes"
    allowed: "Flags"
    firsts: "Sequence[NDArray[np.int64]]"
    note_counts: Sequence[int]

    @classmethod
    def of(
        cls, connection: sa.Connection, selection: Selection, is_collapsed: bool, alphabet: Alphabet = "pitch"
    ) -> "RecurLines":
        """Read the lines of a selection; a section only limits which places are allowed."""
        import numpy as np

        lines = NearLines.of(connection, alphabet, replace(selection, section=""), is_collapsed)
        rows = {row[0]: row for row in _rows(connection, selection)}
        beats, roles, allowed, firsts, counts = [], [], [], [], []
        for identity in lines.ids:
            _, interval, role, notes, layout = rows[identity]
            places = note_places(notes, layout)
            kept = np.arange(len(interval))
            if is_collapsed:
                kept = kept[np.frombuffer(interval.encode(), dtype=np.uint8) != ord(_REPEAT)]
            beats.append(_beat_classes(places.in_bar[kept]))
            roles.append(_role_classes(role)[kept])
            inside = places.in_section(selection.section) if selection.section else np.ones(len(interval), dtype=bool)
            allowed.append(inside[kept])
            firsts.append(kept)
            counts.append(len(interval))
        spread = _Spread(len(lines.columns.classes), lines.columns.bars)
        return cls(lines, spread(beats, np.uint8), spread(roles, np.uint8), spread(allowed, bool), firsts, counts)

    @property
    def note_count(self) -> int:
        """Notes of all lines, repeats included."""
        return sum(self.note_counts)

    def note_share(self, places: "Flags") -> int:
        """Notes of some places, repeats included."""
        import numpy as np

        is_note = np.ones(len(places), dtype=bool)
        is_note[self.lines.columns.bars] = False
        sizes = [np.diff(kept, append=count) for kept, count in zip(self.firsts, self.note_counts, strict=True)]
        return int(np.concatenate(sizes)[places[is_note]].sum()) if sizes else 0

    @cached_property
    def contexts(self) -> "tuple[Classes, ...]":
        """What may tell that a figure is more than chance: those that say anything in this corpus."""
        return tuple(classes for classes in (self.beats, self.roles) if len(set(classes[classes > 0].tolist())) > 1)

    def stretch(self, first: int, last: int) -> tuple[int, int, int]:
        """The line's ID and its first and last note (repeats included) of a stretch of places."""
        import numpy as np

        numbers, notes = self.lines.columns.line_and_note(np.array([first, last]))
        number = int(numbers[0])
        kept = self.firsts[number]
        following = int(notes[1]) + 1
        end = int(kept[following]) - 1 if following < len(kept) else self.note_counts[number] - 1
        return self.lines.ids[number], int(kept[int(notes[0])]), end


class _Spread:
    """Columns of lines laid over the places, where bars stand between."""

    def __init__(self, size: int, bars: Any) -> None:
        import numpy as np

        self._size = size
        self._notes = np.ones(size, dtype=bool)
        self._notes[bars] = False

    def __call__(self, columns: Sequence[Any], kind: Any) -> Any:
        import numpy as np

        found = np.zeros(self._size, dtype=kind)
        if columns:
            found[self._notes] = np.concatenate(columns)
        return found


def _rows(connection: sa.Connection, selection: Selection) -> Any:
    conditions, values = selection.conditions()
    where = f" WHERE {' AND '.join(conditions)}" if conditions else ""
    sql = (
        "SELECT r.transcription_id, r.interval, r.role, l.notes, l.layout FROM reading r "
        "JOIN line l ON l.transcription_id = r.transcription_id "
        f"JOIN transcription t ON t.id = r.transcription_id{where}"
    )
    return connection.execute(sa.text(sql), values)


def _beat_classes(in_bar: Any) -> "Classes":
    """Where in the bar notes begin, in sixteenths from 1; all later ones are one class."""
    import numpy as np

    found: Classes = np.clip(in_bar * _CLASSES_A_QUARTER // TICKS_PER_QUARTER + 1, 1, _LAST_CLASS).astype(np.uint8)
    return found


def _role_classes(role: str) -> "Classes":
    import numpy as np

    table = np.zeros(256, dtype=np.uint8)
    for place, symbol in enumerate(SYMBOLS, start=1):
        table[ord(symbol)] = 0 if symbol == BREAK else place
    found: Classes = table[np.frombuffer(role.encode(), dtype=np.uint8)]
    return found
