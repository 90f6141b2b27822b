"""When a file is replaced by a newer state: which of its new lines follows which of the old ones.

A new line follows an old one of the same title with the same notes; else one of the same title, in order; else one
with the same notes. The follower keeps the ID, what was edited by hand, and whatever detail the new state of the file
does not say. The title that counts is the file's own, not one given by hand.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

EDITABLE: Final = ("title", "player", "collection", "instrument", "recording", "year", "tempo_bpm", "key", "form")
"""Columns of ``transcription`` that may be set by hand."""


@dataclass(frozen=True, slots=True)
class PreparedLine:
    """A transcription as it is stored: column values, readings, packed notes and layout, functions by level."""

    columns: Mapping[str, Any]
    readings: Mapping[str, str]
    notes: bytes
    layout: bytes
    functions: Sequence[tuple[str, bytes, str]] = ()


@dataclass(frozen=True, slots=True)
class OldLine:
    """What was known of a line: its intervals, details, and what was edited by hand (``set`` and ``was``)."""

    id: int
    intervals: str
    details: Mapping[str, Any]
    edited: Mapping[str, Any]

    @property
    def file_title(self) -> str:
        """The title that the file gave."""
        return str(self.edited["was"].get("title", self.details["title"]))

    def carried_over(self, columns: Mapping[str, Any]) -> dict[str, Any]:
        """The columns of a line that follows this one."""
        silent = {
            name: value
            for name, value in self.details.items()
            if columns[name] in ("", None) and value not in ("", None)
        }
        return {**columns, **silent, **self.edited["set"]}


def match_lines(old: Sequence[OldLine], new: Sequence[PreparedLine]) -> list[OldLine | None]:
    """For each new line the old one that it follows, or None."""
    followed: list[OldLine | None] = [None] * len(new)
    free = list(old)
    same: tuple[Callable[[OldLine, PreparedLine], bool], ...] = (
        lambda o, n: o.file_title == n.columns["title"] and o.intervals == n.readings["interval"],
        lambda o, n: o.file_title == n.columns["title"],
        lambda o, n: o.intervals == n.readings["interval"],
    )
    for is_same in same:
        for index, line in enumerate(new):
            if followed[index] is None:
                found = next((candidate for candidate in free if is_same(candidate, line)), None)
                if found is not None:
                    followed[index] = found
                    free.remove(found)
    return followed
