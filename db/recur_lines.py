"""All selected lines as columns for discovery, with what stands around each note: beat, role, section.

Read from the readings' texts and the packed columns; no line is unpacked into notes.
"""

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
    Notes = NDArray[np.int64]

_REPEAT: Final = SIGNED_SYMBOLS[0]
_CLASSES_A_QUARTER: Final = 4
_LAST_CLASS: Final = 63


@dataclass(frozen=True)
class RecurLines:
    """Columns of lines, their IDs, and what discovery asks about their notes, an entry a place of the columns.

    ``firsts`` are the notes that begin an entry (a note and its repeats), counted through all lines, an entry each;
    ``note_starts`` is where each line begins in that count, and where the last one ends.
    """

    lines: NearLines
    beats: "Classes"
    roles: "Classes"
    allowed: "Flags"
    firsts: "Notes"
    note_starts: "Notes"

    @classmethod
    def of(
        cls, connection: sa.Connection, selection: Selection, is_collapsed: bool, alphabet: Alphabet = "pitch"
    ) -> "RecurLines":
        """Read the lines of a selection; a section only limits which places are allowed."""
        import numpy as np

        lines = NearLines.of(connection, alphabet, replace(selection, section=""), is_collapsed)
        rows = {row[0]: row[1:] for row in _rows(connection, selection)}
        intervals, roles, notes, layouts = (
            zip(*map(rows.__getitem__, lines.ids), strict=True) if lines.ids else [()] * 4
        )
        places = [note_places(*packed) for packed in zip(notes, layouts, strict=True)]
        symbols = np.frombuffer("".join(intervals).encode(), dtype=np.uint8)
        starts = np.cumsum([0, *map(len, intervals)])
        kept = np.flatnonzero(symbols != ord(_REPEAT)) if is_collapsed else np.arange(len(symbols))
        in_bar = np.concatenate([place.in_bar for place in places]) if places else np.zeros(0, dtype=np.int64)
        inside = np.ones(len(symbols), dtype=bool)
        if selection.section and places:
            inside = np.concatenate([place.in_section(selection.section) for place in places])
        is_note = np.ones(len(lines.columns.classes), dtype=bool)
        is_note[lines.columns.bars] = False

        def spread(values: Any) -> Any:
            """Values of notes over the places, where bars stand between."""
            found = np.zeros(len(is_note), dtype=values.dtype)
            found[is_note] = values[kept]
            return found

        columns = spread(_beat_classes(in_bar)), spread(_role_classes("".join(roles))), spread(inside)
        return cls(lines, *columns, kept, starts)

    @property
    def note_count(self) -> int:
        """Notes of all lines, repeats included."""
        return int(self.note_starts[-1])

    def note_share(self, places: "Flags") -> int:
        """Notes of some places, repeats included."""
        import numpy as np

        is_note = np.ones(len(places), dtype=bool)
        is_note[self.lines.columns.bars] = False
        return int(np.diff(self.firsts, append=self.note_count)[places[is_note]].sum())

    @cached_property
    def contexts(self) -> "tuple[Classes, ...]":
        """What may tell that a figure is more than chance: those that say anything in this corpus."""
        return tuple(classes for classes in (self.beats, self.roles) if len(set(classes[classes > 0].tolist())) > 1)

    def stretches(self, firsts: "Notes", lasts: "Notes") -> list[tuple[int, int, int, int, int]]:
        """Stretches of places, from first to last: the line's ID, first and last note with repeats counted, and first
        and last entry in it.
        """
        import numpy as np

        numbers, begins = self.lines.columns.line_and_note(firsts)
        _, ends = self.lines.columns.line_and_note(lasts)
        line_starts, note_starts = self.lines.columns.line_starts[numbers], self.note_starts[numbers]
        following = np.append(self.firsts, self.note_count)
        first_notes = self.firsts[line_starts + begins] - note_starts
        last_notes = following[line_starts + ends + 1] - 1 - note_starts
        ids = np.array(self.lines.ids, dtype=np.int64)[numbers]
        columns = ids, first_notes, last_notes, begins, ends
        return list(zip(*(column.tolist() for column in columns), strict=True))


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
