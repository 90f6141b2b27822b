"""Roles as text, one symbol a note, and roles as they are asked for.

The role reading writes a chord tone's degree as ``a`` (1) to ``l`` (7), a scale tone's as ``m`` to ``x``, an outside
note's as ``y`` (b9), ``z`` (9), ``1`` (#9) to ``9`` (7): 36 symbols with the break ``0``, which says that a note has
no role. The movement reading has ``a`` to ``j`` in the order of ``corpus.harmony.roles.Movement``.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, get_args

from corpus.errors import QueryError
from corpus.harmony.roles import APPROACHES, Harmony, Movement, NoteRole
from corpus.model import Transcription
from corpus.readings import BREAK, HarmonicColumns

_ALPHABET: Final = "abcdefghijklmnopqrstuvwxyz"
_OUTSIDE: Final = "0yz123456789"
"""Symbols of outside notes by semitones; a root is never outside, so ``0`` stays free for the break."""
_MOVEMENTS: Final[tuple[Movement, ...]] = get_args(Movement)


def role_symbol(role: NoteRole | None) -> str:
    """The symbol of a note in the role reading: 12 degrees in three kinds, ``0`` for no role."""
    if role is None:
        return BREAK
    if role.kind == "outside":
        return _OUTSIDE[role.semitones]
    return _ALPHABET[role.semitones + (0 if role.kind == "chord tone" else 12)]


def movement_symbol(role: NoteRole | None) -> str:
    """The symbol of a note in the movement reading, ``0`` for none."""
    if role is None or role.movement is None:
        return BREAK
    return _ALPHABET[_MOVEMENTS.index(role.movement)]


APPROACH_SYMBOLS: Final = "".join(
    _ALPHABET[_MOVEMENTS.index(movement)] for movement in _MOVEMENTS if movement in APPROACHES
)
"""Symbols of the movement reading that lead into a strong note."""

_ASKED: Final = {
    "1": 0, "b9": 1, "b2": 1, "9": 2, "2": 2, "#9": 3, "#2": 3, "b3": 3, "3": 4, "b11": 4, "11": 5, "4": 5,
    "#11": 6, "#4": 6, "b5": 6, "5": 7, "#5": 8, "b13": 8, "b6": 8, "13": 9, "6": 9, "bb7": 9, "b7": 10, "7": 11,
}  # fmt: skip
ROLE_CLASSES: Final = ("chord", "scale", "outside", "approach", "*")


@dataclass(frozen=True, slots=True)
class RoleChoice:
    """What one note may be: symbols of the reading that is asked, and whether it must be an approach.

    ``roles`` are the symbols of the role reading that will do beside a degree of the key; empty for any.
    """

    symbols: str
    is_approach: bool = False
    roles: str = ""


def parse_role(word: str) -> RoleChoice:
    """Read a degree of the chord (``b7``, ``#11``) or a class: chord, scale, outside, approach, ``*`` for any.

    Raises QueryError for anything else.
    """
    lowered = word.strip().replace("♭", "b").replace("♯", "#").lower()
    chord, scale, outside = _ALPHABET[:12], _ALPHABET[12:24], _OUTSIDE[1:]
    classes = {
        "chord": chord,
        "scale": scale,
        "outside": outside,
        "approach": chord + scale + outside,
        "*": chord + scale + outside,
    }
    if lowered in classes:
        return RoleChoice(classes[lowered], lowered == "approach")
    if lowered not in _ASKED:
        raise QueryError(
            f"unknown role {word!r}: write a degree of the chord (1, b9, 3, #11) or {', '.join(ROLE_CLASSES)}"
        )
    semitones = _ASKED[lowered]
    return RoleChoice(chord[semitones] + scale[semitones] + (_OUTSIDE[semitones] if semitones else ""))


def parse_degree(word: str) -> RoleChoice:
    """Read a degree of the key (``5``, ``b3``, ``#4``), or a class as ``parse_role`` does, whatever the degree.

    Raises QueryError for anything else.
    """
    lowered = word.strip().replace("♭", "b").replace("♯", "#").lower()
    if lowered in ROLE_CLASSES:
        choice = parse_role(lowered)
        return RoleChoice(_ALPHABET[:12], choice.is_approach, "" if lowered == "*" else choice.symbols)
    if lowered not in _ASKED:
        raise QueryError(
            f"unknown degree {word!r}: write a degree of the key, as in 5, b3, #4, or {', '.join(ROLE_CLASSES)}"
        )
    return RoleChoice(_ALPHABET[_ASKED[lowered]])


def harmonic_columns(
    transcription: Transcription, harmony: Sequence[Harmony], roles: Sequence[NoteRole | None]
) -> HarmonicColumns:
    """What the readings take from harmony: roles and movements as text, and the tonic of the local key at each note.

    Where no chord says more, the tonic is that of the bar's key.
    """
    onsets = [span.onset_ticks for span in harmony]
    tonics: list[int | None] = []
    for note in transcription.notes:
        index = bisect_right(onsets, note.onset_ticks) - 1
        key = harmony[index].key if index >= 0 and note.onset_ticks < harmony[index].end_ticks else None
        key = key or transcription.bars[note.bar_index].key
        tonics.append(None if key is None else key.tonic_pitch_class)
    return HarmonicColumns(
        roles="".join(map(role_symbol, roles)), movements="".join(map(movement_symbol, roles)), tonics=tonics
    )
