"""How wide texts are at the most, before a font is known: advances of a wide serif font, DejaVu Serif."""

from typing import Final

_NARROW: Final = dict.fromkeys(" ,.:;'!|()[]{}/\\", 0.4) | dict.fromkeys("fijlrstIJ-", 0.52)
_SIGNS: Final = dict.fromkeys("♭♯♮", 0.46) | dict.fromkeys("0123456789", 0.64) | dict.fromkeys("()[]", 0.39)
_WIDE: Final = dict.fromkeys("mw", 0.95) | dict.fromkeys("MW", 1.03)
_WIDTHS: Final = (
    dict.fromkeys("abcdefghijklmnopqrstuvwxyz", 0.66)
    | dict.fromkeys("ABCDEFGHIJKLMNOPQRSTUVWXYZ", 0.88)
    | _NARROW
    | _SIGNS
    | _WIDE
)
_OTHER: Final = 1.05


def width_of(text: str) -> float:
    """How wide a text in a plain face may be at the most, by its size of type. Signs as ``outlines`` draws them."""
    return sum(_WIDTHS.get(character, _OTHER) for character in text)


def wrapped(text: str, width: float, most: int = 6) -> list[str]:
    """A text in lines no wider than ``width`` (by the size of type), at most so many; an ellipsis says that more was.

    Words wider than a line are broken.
    """
    lines = [""]
    for word in text.split():
        if lines[-1] and width_of(f"{lines[-1]} {word}") <= width:
            lines[-1] += f" {word}"
            continue
        if lines[-1]:
            lines.append("")
        for character in word:
            if lines[-1] and width_of(lines[-1] + character) > width:
                lines.append("")
            lines[-1] += character
    if len(lines) <= most:
        return lines
    last = lines[most - 1]
    while last and width_of(f"{last} …") > width:
        last = last[:-1]
    return [*lines[: most - 1], f"{last.rstrip()} …"]
