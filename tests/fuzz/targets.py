"""What is fuzzed: for each reader and parser its altered inputs, what is done with one, and what must hold afterwards.

The only exceptions that may come out of a target are the project's own (``WellwornError``). A new format needs a line
in ``READERS``; until its suffix is read (``corpus.read.formats.SUFFIXES``) the line rests.
"""

import random
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from functools import cache
from typing import Final

from corpus.errors import ReadingError, WellwornError
from corpus.form import parse_form
from corpus.harmony.chart_text import parse_chart, print_chart
from corpus.harmony.numerals import parse_numeral
from corpus.harmony.over import parse_function, parse_progression
from corpus.harmony.role_symbols import parse_degree, parse_role
from corpus.harmony.symbols import parse_symbol
from corpus.match import figure
from corpus.match.forms import parse_forms
from corpus.model import Transcription
from corpus.pitch import parse_key, parse_spelling
from corpus.read.formats import SUFFIXES, pieces_of, read_piece
from corpus.read.written import ReadingWishes, parse_meter
from corpus.regions import parse_region
from corpus.sheet.frames import parse_numerals
from corpus.sheet.ladder import parse_ladder
from corpus.shelf.file import read_shelf, write_shelf
from db.store import prepare
from tests.fuzz import seeds
from tests.fuzz.mutate import json_mutator, table_mutator, token_mutator, xml_mutator
from tests.fuzz.mutate_midi import midi_mutator

Mutator = Callable[[random.Random], bytes]

_ABC_TOKENS = (
    r'"[^"\n]*"|\{[^}\n]*\}|\[[A-Za-z]:[^\]\n]*\]|![^!\n]*!|^[A-Za-z]:[^\n]*$|^%%[^\n]*$'
    r"|[\^_=]*[A-Ga-gzxZ][,']*\d*/*\d*|\(\d(?::\d*)*|[|:\[\]]+\d?|\n|[^\S\n]+|."
)
_WORD_TOKENS = r"\w+|\s+|."
_MOST_PIECES_READ = 3
_PARSERS: Final[tuple[Callable[[str], object], ...]] = (
    figure.figure_from_notes,
    figure.figure_from_intervals,
    figure.figure_from_steps,
    figure.figure_from_contour,
    figure.figure_from_roles,
    figure.figure_from_degrees,
    parse_region,
    parse_progression,
    parse_function,
    parse_role,
    parse_degree,
    parse_symbol,
    parse_numeral,
    parse_numerals,
    parse_key,
    parse_spelling,
    parse_form,
    parse_meter,
    parse_forms,
    parse_ladder,
)


@dataclass(frozen=True)
class Target:
    """``mutator`` makes the function that gives an input; ``run`` takes one and raises what must be looked at."""

    name: str
    suffix: str
    mutator: Callable[[], Mutator]
    run: Callable[[bytes], None]


def _read(suffix: str) -> Callable[[bytes], None]:
    """Reads a file as ``add`` does, with each choice of part and voice, and makes it ready to store."""

    def run(data: bytes) -> None:
        try:
            pieces = pieces_of(data, f"input{suffix}")
        except ReadingError:
            return
        for piece in pieces[:_MOST_PIECES_READ]:
            for wishes in (ReadingWishes(), ReadingWishes(part="1"), ReadingWishes(part="2", voice="bottom")):
                try:
                    line = read_piece(piece, wishes)
                except ReadingError as error:
                    if wishes.part is None and "choose one" in str(error):
                        continue
                    break
                hold_to_laws(line)
                prepare(line)
                break

    return run


def hold_to_laws(line: Transcription) -> None:
    """What holds for every line, whatever file it comes from."""
    onset = 0
    for bar in line.bars:
        assert bar.onset_ticks == onset, "bars leave gaps"
        assert bar.length_ticks >= 0, "a bar runs backwards"
        assert bar.meter.numerator > 0, "a meter of nothing"
        onset += bar.length_ticks
    end = 0
    for note in line.notes:
        bar = line.bars[note.bar_index]
        assert note.duration_ticks > 0, "a note of no length"
        assert note.onset_ticks >= end, "two notes at once"
        assert bar.onset_ticks <= note.onset_ticks < bar.onset_ticks + bar.length_ticks, "a note outside its bar"
        assert note.pitch is None or 0 <= note.pitch <= 127, "a pitch that no MIDI number names"
        assert note.pitch is None or parse_spelling(note.spelling).pitch == note.pitch, "a spelling of another pitch"
        end = note.end_ticks
    for chord in line.chords:
        assert chord.onset_ticks < chord.end_ticks, "a chord of no length"
    details = line.details
    texts = [details.title, details.player, details.instrument, details.recording]
    texts += [section.label for section in line.sections] + [chord.symbol for chord in line.chords]
    for text in texts:
        assert len(text) <= 400, "a text without end"
        assert not any(character < " " or "\x7f" <= character < "\xa0" for character in text), "a control character"


def _text(data: bytes) -> str:
    """Text with lone surrogates kept, as a terminal may hand them on; other bytes become the sign for them."""
    try:
        return data.decode("utf-8", "surrogatepass")
    except UnicodeDecodeError:
        return data.decode("utf-8", "replace")


def _question(data: bytes) -> None:
    text = _text(data)
    for parse in _PARSERS:
        with suppress(WellwornError):
            parse(text)


def _chart(data: bytes) -> None:
    text = _text(data)
    try:
        chart = parse_chart(text, "input.txt")
    except WellwornError:
        return
    printed = print_chart(chart)
    assert print_chart(parse_chart(printed, "printed")) == printed, "a chart that reads otherwise when printed"


def _shelf(data: bytes) -> None:
    try:
        figures = read_shelf(data, "input.json", seeds.LATEST)
    except ReadingError:
        return
    written = write_shelf(figures, with_practice=True)
    again = read_shelf(written, "written", seeds.LATEST)
    assert write_shelf(again, with_practice=True) == written, "a shelf that reads otherwise when written"


READERS: Final = (
    Target("abc", ".abc", lambda: token_mutator(_ABC_TOKENS, seeds.abc_texts()), _read(".abc")),
    Target("musicxml", ".musicxml", lambda: xml_mutator(seeds.musicxml_files()), _read(".musicxml")),
    Target("kern", ".krn", lambda: table_mutator(seeds.kern_texts()), _read(".krn")),
    Target("midi", ".mid", lambda: midi_mutator(seeds.midi_files()), _read(".mid")),
)


@cache
def targets() -> Mapping[str, Target]:
    """All targets by name: the readers of formats that are read, then the parsers."""
    parsers = (
        Target("chart", ".txt", lambda: token_mutator(_WORD_TOKENS, seeds.CHARTS), _chart),
        Target("question", ".txt", lambda: token_mutator(_WORD_TOKENS, seeds.QUESTIONS), _question),
        Target("shelf", ".json", lambda: json_mutator(seeds.shelf_files()), _shelf),
    )
    return {target.name: target for target in (*(one for one in READERS if one.suffix in SUFFIXES), *parsers)}
