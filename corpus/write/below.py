"""What may stand below the notes: degrees of the key, or roles against the chords."""

from typing import Final, Literal

from corpus.harmony.analysis import analyse
from corpus.harmony.roles import roles_of
from corpus.model import Transcription
from corpus.pitch import degree_name

Below = Literal["degrees", "roles"]
BELOW: Final[tuple[Below, ...]] = ("degrees", "roles")

_BRACKETS: Final = {"chord tone": ("", ""), "scale tone": ("(", ")"), "outside": ("[", "]")}


def below_texts(transcription: Transcription, below: Below) -> dict[int, str]:
    """A text for each note that has one, by note index: ``♭3`` in the key; ``3``, ``(2)``, ``[♭2]`` against the chord.

    Roles: chord tones bare, scale tones in round, outside notes in square brackets. Degrees count in the
    key of the bar; a line without a key has none.
    """
    if below == "roles":
        roles = roles_of(transcription, analyse(transcription).spans)
        return {
            index: _BRACKETS[role.kind][0] + signs(role.degree) + _BRACKETS[role.kind][1]
            for index, role in enumerate(roles)
            if role is not None
        }
    texts: dict[int, str] = {}
    for index, note in enumerate(transcription.notes):
        key = transcription.bar_of(index).key or transcription.details.key
        if note.pitch is not None and key is not None:
            texts[index] = signs(degree_name(note.spelling, key))
    return texts


def signs(degree: str) -> str:
    """A degree with the accidentals of the page."""
    return degree.replace("b", "♭").replace("#", "♯")
