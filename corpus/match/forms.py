"""A figure turned round: backwards (retrograde), upside down (inversion), or both."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Final, Literal, get_args

from corpus.errors import QueryError
from corpus.match.figure import Figure

Form = Literal["", "retrograde", "inversion", "retrograde inversion"]
FORMS: Final[tuple[Form, ...]] = get_args(Form)
"""The figure itself is the empty text."""


def parse_forms(text: str) -> tuple[Form, ...]:
    """The figure itself and the forms named in a list such as ``retrograde,inversion``. Raises QueryError."""
    forms: list[Form] = [""]
    for word in (" ".join(part.lower().split()) for part in text.split(",") if part.strip()):
        if word not in FORMS:
            raise QueryError(f"unknown form {word!r}: choose from {', '.join(FORMS[1:])}")
        forms.append(word)
    return tuple(dict.fromkeys(forms))


def _backwards(heights: Sequence[int] | None) -> tuple[int, ...] | None:
    return None if heights is None else tuple(reversed(heights))


def _upside_down(heights: Sequence[int] | None) -> tuple[int, ...] | None:
    """Heights mirrored about the first."""
    return None if heights is None else tuple(2 * heights[0] - height for height in heights)


def _retrograde(figure: Figure) -> Figure:
    contour = figure.contour
    if contour is not None:
        contour = contour[::-1].translate(str.maketrans("ud", "du"))
    onsets = figure.onsets
    return replace(
        figure,
        text=f"{figure.text} (retrograde)",
        pitches=_backwards(figure.pitches),
        positions=_backwards(figure.positions),
        octave_known=tuple(reversed(figure.octave_known)),
        contour=contour,
        onsets=None if onsets is None else tuple(onsets[-1] - onset for onset in reversed(onsets)),
        beat=None,
        choices=tuple(reversed(figure.choices)),
    )


def _inversion(figure: Figure) -> Figure:
    if figure.reading is not None:
        raise QueryError(f"a figure of {figure.reading}s cannot be turned upside down: ask with --notes or --intervals")
    return replace(
        figure,
        text=f"{figure.text} (inversion)",
        pitches=_upside_down(figure.pitches),
        positions=_upside_down(figure.positions),
        contour=None if figure.contour is None else figure.contour.translate(str.maketrans("ud", "du")),
        beat=None,
    )


def turned(figure: Figure, form: Form) -> Figure:
    """A form of a figure. Raises QueryError for the inversion of roles or degrees."""
    if "inversion" in form:
        figure = _inversion(figure)
    return _retrograde(figure) if "retrograde" in form else figure
