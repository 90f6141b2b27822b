"""What a shape is: a stretch of a line that has a name in the trade."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final, Literal, get_args

from corpus.errors import QueryError

Kind = Literal[
    "interval cycle",
    "doubled notes",
    "arpeggio",
    "scale run",
    "chromatic run",
    "enclosure",
    "pedal",
    "root-only stretch",
    "5-1 cadence",
    "sequence",
    "call an octave higher",
]
KINDS: Final[tuple[Kind, ...]] = get_args(Kind)
"""The kinds of shapes; what each is, is said at the head of ``corpus.shapes``."""


@dataclass(frozen=True, slots=True)
class Shape:
    """Notes ``first`` to ``last`` of a line (indexes from 0, both included) as something that has a name.

    ``words`` is what a musician would say; ``details`` the same for programs: texts, numbers and lists of them.
    """

    kind: Kind
    first: int
    last: int
    words: str
    details: dict[str, Any] = field(default_factory=dict, hash=False)

    @property
    def notes(self) -> int:
        """How many notes it has."""
        return self.last - self.first + 1


def parse_kinds(text: str) -> frozenset[Kind]:
    """Read kinds such as ``arpeggio,pedal``; the beginning of a name is enough (``enc``, ``root``), plurals are read.

    ``fourths`` stands for interval cycles. Raises QueryError for a name that is none, or could be several.
    """
    found: set[Kind] = set()
    for word in (part.strip().lower() for part in text.split(",")):
        fits = [kind for kind in KINDS if word and (kind.startswith(word) or word == f"{kind}s")]
        if word in ("fourths", "run of fourths"):
            fits = ["interval cycle"]
        if len(fits) != 1:
            raise QueryError(f"kind {word!r} is {'not clear' if fits else 'unknown'}: choose {_list(KINDS)}")
        found.update(fits)
    return frozenset(found)


def _list(words: Sequence[str]) -> str:
    return f"{', '.join(words[:-1])} or {words[-1]}"
