"""Which reader a file needs, and the pieces of work that it falls into.

An ABC file may hold hundreds of tunes, each a piece of its own, and a Humdrum file several pieces; a MusicXML or MIDI
file is one piece.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import PurePath
from typing import Final

from corpus.check import check
from corpus.errors import QueryError, ReadingError
from corpus.harmony.chart import apply_chart
from corpus.harmony.complete import complete
from corpus.model import Transcription
from corpus.read.abc import read_abc_tune, split_tunes, voice_place
from corpus.read.abc_text import AbcTune
from corpus.read.assemble import assemble
from corpus.read.kern import KernPiece, read_kern, spine_place, split_pieces
from corpus.read.midi_spelling import spelled
from corpus.read.musicxml import part_place, read_musicxml
from corpus.read.written import ReadingWishes, WrittenLine

ABC_SUFFIXES: Final = (".abc",)
MUSICXML_SUFFIXES: Final = (".musicxml", ".xml", ".mxl")
KERN_SUFFIXES: Final = (".krn", ".kern")
MIDI_SUFFIXES: Final = (".mid", ".midi")
SUFFIXES: Final = ABC_SUFFIXES + MUSICXML_SUFFIXES + KERN_SUFFIXES + MIDI_SUFFIXES
LARGEST_FILE_BYTES: Final = 64 * 1024 * 1024


@dataclass(frozen=True, slots=True)
class Piece:
    """One transcription's worth of a file: an ABC tune, a Humdrum piece, or the bytes of a MusicXML or MIDI file.

    ``position`` counts the pieces of the file from 0, ``label`` is what messages call the piece.
    """

    file_name: str
    position: int
    label: str
    content: AbcTune | KernPiece | bytes


def pieces_of(data: bytes, name: str) -> Sequence[Piece]:
    """The pieces of a file. Raises ReadingError for an empty, oversized or foreign file."""
    base = PurePath(name).name or name
    if not data.strip():
        raise ReadingError(f"{base} is empty: nothing to read")
    if len(data) > LARGEST_FILE_BYTES:
        raise ReadingError(f"{base} has {len(data) >> 20} MB; at most {LARGEST_FILE_BYTES >> 20} MB are read: split it")
    suffix = _suffix(name)
    if suffix in MUSICXML_SUFFIXES + MIDI_SUFFIXES:
        return [Piece(name, 0, base, data)]
    is_typed_kern = not suffix and data.lstrip()[:2] in (b"**", b"!!")
    if suffix in KERN_SUFFIXES or is_typed_kern:
        return [Piece(name, position, piece.place, piece) for position, piece in enumerate(split_pieces(data, base))]
    if suffix in ABC_SUFFIXES or not suffix:
        tunes = split_tunes(data, base)
        return [Piece(name, position, tune.place, tune) for position, tune in enumerate(tunes)]
    raise ReadingError(f"{base} is of no kind that is read: give {', '.join(SUFFIXES)}")


def read_piece(piece: Piece, wishes: ReadingWishes) -> Transcription:
    """Read, play out, chart, analyse and check one piece. Raises ReadingError."""
    is_midi = _suffix(piece.file_name) in MIDI_SUFFIXES
    try:
        transcription = assemble(_line(piece, wishes))
    except ReadingError as error:
        raise ReadingError(f"{piece.label}: {error}") from error
    if not transcription.details.title:
        title = PurePath(piece.file_name).stem
        transcription = replace(transcription, details=replace(transcription.details, title=title))
    try:
        if wishes.chart is not None:
            transcription = apply_chart(transcription, wishes.chart)
    except QueryError as error:
        raise ReadingError(f"{piece.label}: {error}") from error
    if is_midi:
        transcription = spelled(transcription)
    transcription = complete(transcription)
    return replace(transcription, findings=check(transcription))


def _line(piece: Piece, wishes: ReadingWishes) -> WrittenLine:
    if isinstance(piece.content, KernPiece):
        return read_kern(piece.content, wishes)
    if not isinstance(piece.content, bytes):
        return read_abc_tune(piece.content, wishes)
    name = PurePath(piece.file_name).name
    if _suffix(name) in MIDI_SUFFIXES:
        from corpus.read.midi import read_midi  # loads numpy, which no other reader needs

        return read_midi(piece.content, name, wishes)
    return read_musicxml(piece.content, name, wishes)


def _suffix(name: str) -> str:
    return PurePath(name).suffix.lower()


def is_same_part(pieces: Sequence[Piece], one: str | None, other: str | None) -> bool:
    """Whether two ways of asking for a part (number, name, None for the only one) mean the same part of each piece.

    Pieces in which either means nothing do not count; there must be one in which both do.
    """
    found = False
    for piece in pieces:
        try:
            places = {_part_place(piece, part) for part in (one, other)}
        except ReadingError:
            continue
        if len(places) > 1:
            return False
        found = True
    return found


def _part_place(piece: Piece, part: str | None) -> int:
    if isinstance(piece.content, AbcTune):
        return voice_place(piece.content, ReadingWishes(part=part))
    if isinstance(piece.content, KernPiece):
        return spine_place(piece.content, part)
    if _suffix(piece.file_name) in MIDI_SUFFIXES:
        raise ReadingError(f"{piece.label}: tracks and channels of MIDI files are asked for as they are, not as parts")
    return part_place(piece.content, PurePath(piece.file_name).name, part)
