"""Files of a line that was made: MusicXML, MIDI, and an engraved sheet with figures in brackets."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from cli.files import target_of, write_files
from cli.options import OUTPUT_PANEL
from corpus.errors import QueryError

if TYPE_CHECKING:
    from corpus.model import Transcription

MusicXmlOption = Annotated[
    str | None, typer.Option("--musicxml", metavar="FILE", help="MusicXML 4.0.", rich_help_panel=OUTPUT_PANEL)
]
PdfOption = Annotated[
    str | None,
    typer.Option("--pdf", metavar="FILE", help="Engraved sheet, figures in brackets.", rich_help_panel=OUTPUT_PANEL),
]


def targets(wanted: Mapping[str, str | None], force: bool) -> dict[str, Path]:
    """Where to write each kind of file. Raises QueryError for two kinds in one file, or one that is there already."""
    paths = {kind: target_of(name, force) for kind, name in wanted.items() if name is not None}
    if len(set(paths.values())) < len(paths):
        raise QueryError("two kinds of file cannot go into one: give each a name of its own")
    return paths


def write_line(line: "Transcription", figures: Sequence[tuple[str, int, int]], paths: Mapping[str, Path]) -> None:
    """The files asked for, all or none; ``figures`` are names with their first and last note."""
    from cli.output import tell

    contents: dict[Path, bytes] = {}
    if "musicxml" in paths:
        from corpus.write.musicxml import musicxml_of

        contents[paths["musicxml"]] = musicxml_of(line).encode("utf-8")
    if "midi" in paths:
        from corpus.write.midi import MidiOptions, midi_of

        contents[paths["midi"]] = midi_of(line, MidiOptions(chords=True))
    if "pdf" in paths:
        from corpus.write.engrave import EngravingOptions, Mark, svg_pages
        from corpus.write.paper import pdf_of

        kinds = {name: kind for kind, name in enumerate(dict.fromkeys(name for name, _, _ in figures))}
        marks = [Mark(name.removeprefix("family "), first, last, kinds[name]) for name, first, last in figures]
        contents[paths["pdf"]] = pdf_of(svg_pages(line, EngravingOptions(marks=marks, paper="A4")))
    write_files(contents)
    for path in contents:
        tell(f"{path}: {len(line.bars)} bars")
    if "midi" in paths:
        from cli.play import LOUDNESS

        tell(LOUDNESS)
