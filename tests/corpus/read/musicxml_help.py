"""Small MusicXML texts for tests, written out by hand."""

from corpus.model import TICKS_PER_QUARTER
from corpus.read.musicxml import read_musicxml
from corpus.read.repeats import play_order
from corpus.read.written import ReadingWishes, WrittenLine

FOUR_FOUR = "<time><beats>4</beats><beat-type>4</beat-type></time>"
C_MAJOR = "<key><fifths>0</fifths><mode>major</mode></key>"


def note(step: str, octave: int = 4, duration: object = 1, extra: str = "", alter: object = 0) -> str:
    """One ``<note>``; ``extra`` is further XML behind the duration."""
    altered = f"<alter>{alter}</alter>" if alter else ""
    pitch = f"<pitch><step>{step}</step>{altered}<octave>{octave}</octave></pitch>"
    return f"<note>{pitch}<duration>{duration}</duration>{extra}</note>"


WHOLE = note("C", duration=4)


def rest(duration: object = 1) -> str:
    """One rest."""
    return f"<note><rest/><duration>{duration}</duration></note>"


def measure(content: str, number: object = 1, attributes: str = "") -> str:
    """One ``<measure>``; ``attributes`` are further XML attributes."""
    return f'<measure number="{number}" {attributes}>{content}</measure>'


def score(*measures: str, first: str = f"<divisions>1</divisions>{C_MAJOR}{FOUR_FOUR}", head: str = "") -> bytes:
    """A whole file with one part; ``first`` are the attributes of its first measure, ``head`` stands before it."""
    opening, rest_of_it = measures[0].split(">", 1)
    bars = f"{opening}><attributes>{first}</attributes>{rest_of_it}" + "".join(measures[1:])
    parts = '<part-list><score-part id="P1"><part-name>Vibraphone</part-name></score-part></part-list>'
    text = f'<score-partwise version="4.0">{head}{parts}<part id="P1">{bars}</part></score-partwise>'
    return f'<?xml version="1.0" encoding="UTF-8"?>{text}'.encode()


def read(data: bytes, **wishes: object) -> WrittenLine:
    """Read a file under the name ``study.xml``."""
    return read_musicxml(data, "study.xml", ReadingWishes(**wishes))  # type: ignore[arg-type]


def order(line: WrittenLine) -> list[int]:
    """The written numbers of the bars in the order in which they are played."""
    return [line.bars[index].number for index in play_order(line.bars).indexes]


def notes_of(line: WrittenLine, bar: int) -> list[tuple[float, float, str]]:
    """Offset and duration in quarter notes and spelling of the notes of the bar at an index."""
    return [
        (round(n.offset_ticks / TICKS_PER_QUARTER, 6), round(n.duration_ticks / TICKS_PER_QUARTER, 6), n.spelling)
        for n in line.bars[bar].notes
    ]


def chords_of(line: WrittenLine, bar: int) -> list[tuple[float, str]]:
    """Offset in quarter notes and text of the chord symbols of the bar at an index."""
    return [(chord.offset_ticks / TICKS_PER_QUARTER, chord.symbol) for chord in line.bars[bar].chords]


def remarks_of(line: WrittenLine) -> str:
    """All remarks in one text."""
    return "; ".join(finding.text for finding in line.findings)


def voice(number: int) -> str:
    """A ``<voice>``."""
    return f"<voice>{number}</voice>"


def barline(content: str, location: str = "right") -> str:
    """A ``<barline>``."""
    return f'<barline location="{location}">{content}</barline>'


def words(text: str) -> str:
    """A ``<direction>`` with words."""
    return f"<direction><direction-type><words>{text}</words></direction-type></direction>"


def sign(name: str) -> str:
    """A ``<direction>`` with a sign such as ``segno``."""
    return f"<direction><direction-type><{name}/></direction-type></direction>"
