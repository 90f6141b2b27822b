"""A whole sheet: what is asked for, and the transcription that comes of it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

from corpus.errors import QueryError
from corpus.model import Details, Transcription
from corpus.pitch import Key, fifths_of
from corpus.sheet.assemble import assemble
from corpus.sheet.blocks import Block, frame_block, key_block, progression_block
from corpus.sheet.frames import Frame, form_frame, mode_of_numerals, parse_numerals, progression_frame
from corpus.sheet.keys import MOST_SIGNS, key_on
from corpus.sheet.material import Material
from corpus.sheet.ranges import Range
from corpus.shelf.kept import short_key
from corpus.text import clean_text

_BARS_EACH: Final = (Fraction(1), Fraction(1, 2), Fraction(2))
"""How long each chord of a progression may be: the first length that the figure fits is taken.

A figure whose chords are known fits where they change with it; another one where its last note meets the last chord.
"""


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet: the music, and the name of what the figure is practised over."""

    line: Transcription
    statements: int


def label_of(key: Key) -> str:
    """A key as it stands over its first bar: ``B♭``, ``F♯m``."""
    text = short_key(key)
    return text[0] + text[1:2].replace("b", "♭").replace("#", "♯") + text[2:]


def in_mode(key: Key, mode: str) -> Key:
    """The key of another mode on the same tonic, by a name that a signature writes."""
    other = replace(key, mode=mode)
    return other if abs(fifths_of(other)) <= MOST_SIGNS else key_on(key.tonic_pitch_class, mode)


def sheet_in_keys(materials: Sequence[Material], keys: Sequence[Key], within: Range, details: Details) -> Sheet:
    """Figures (a figure and its variants) in every key, one after the other."""
    blocks = [
        key_block(one, in_mode(key, one.key.mode), _label(in_mode(key, one.key.mode), one, index))
        for key in keys
        for index, one in enumerate(materials)
    ]
    return _sheet(blocks, within, details)


def sheet_over_numerals(
    materials: Sequence[Material], numerals: str, keys: Sequence[Key], within: Range, details: Details
) -> Sheet:
    """Figures over a progression of numerals in every key. Raises QueryError where a figure fits nowhere."""
    parsed = parse_numerals(numerals)
    mode = mode_of_numerals(parsed, materials[0].key.mode)
    blocks = []
    for key in (in_mode(key, mode) for key in keys):
        for index, one in enumerate(materials):
            frames = [progression_frame(parsed, key, one.meter, bars_each) for bars_each in _BARS_EACH]
            found = [progression_block(one, frame, key, _label(key, one, index)) for frame in frames]
            fitting = [block for block in found if block.statements]
            if not fitting:
                raise _fits_nowhere(one, f"the progression {numerals.strip()}")
            blocks.append(next((block for block in fitting if _is_plain(block, one)), fitting[0]))
    return _sheet(blocks, within, details)


def _is_plain(block: Block, material: Material) -> bool:
    """Whether the figure keeps its rhythm; without chords of its own, whether it ends over the last chord."""
    notes = block.statements[0].notes
    if material.chords:
        return notes[-1][0] - notes[0][0] == material.notes[-1][0]
    starts = [offset + i * bar.meter.bar_ticks for i, bar in enumerate(block.bars) for offset, _ in bar.chords]
    return notes[-1][0] >= starts[-1]


def sheet_over_form(
    materials: Sequence[Material], name: str, keys: Sequence[Key], within: Range, details: Details
) -> Sheet:
    """Figures over a form with a name, in every key. Raises QueryError where a figure fits nowhere."""
    frames = [(key, form_frame(name, key)) for key in keys]
    return sheet_over_frames(materials, frames, name, within, details)


def sheet_over_frames(
    materials: Sequence[Material],
    frames: Sequence[tuple[Key | None, Frame]],
    name: str,
    within: Range,
    details: Details,
) -> Sheet:
    """Figures over bars with chords. Raises QueryError where a figure fits nowhere."""
    blocks = []
    for key, frame in frames:
        for index, one in enumerate(materials):
            label = one.name if key is None and index else "" if key is None else _label(key, one, index)
            block = frame_block(one, frame, label)
            if not block.statements:
                raise _fits_nowhere(one, name)
            blocks.append(block)
    return _sheet(blocks, within, details)


def _label(key: Key, material: Material, index: int) -> str:
    return label_of(key) if index == 0 else f"{label_of(key)}: {clean_text(material.name)}"


def _fits_nowhere(material: Material, where: str) -> QueryError:
    if not material.chords:
        why = f"no chord there is in {material.meter}, long enough, and {material.key.mode}"
    else:
        why = f"its chords {material.chord_words} do not come there in {material.meter} with that rhythm"
    return QueryError(f"{material.name!r} fits nowhere over {where}: {why}")


def _sheet(blocks: Sequence[Block], within: Range, details: Details) -> Sheet:
    return Sheet(assemble(blocks, within, details), sum(len(block.statements) for block in blocks))
