"""What a figure is practised over: bars with chords, from numerals in a key, a chart, or a form with a name."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from corpus.errors import QueryError
from corpus.harmony.chart_text import Chart
from corpus.harmony.modes import is_minor_mode
from corpus.harmony.numerals import Numeral, Quality, parse_numeral
from corpus.harmony.symbols import ChordSymbol, build_symbol, parse_symbol, read_symbol
from corpus.model import Meter
from corpus.pitch import LETTER_SEMITONES, Key, SpelledPitch
from corpus.sheet.keys import key_on

MOST_CHORDS: Final = 32

FORMS: Final = {
    "blues": "I7 | IV7 | I7 | I7 | IV7 | IV7 | I7 | V/ii | ii | V | I7 V/ii | ii V",
    "minor blues": "i | i | i | i | iv | iv | i | i | bVI7 | V | i | ii7b5 V",
    "32-bar I-VI-ii-V": "I V/ii | ii V | iii V/ii | ii V | I I7 | IV #ivo | iii V/ii | ii V"
    " | I V/ii | ii V | iii V/ii | ii V | I I7 | IV #ivo | ii V | I"
    " | V/vi | V/vi | V/ii | V/ii | V/V | V/V | V | V"
    " | I V/ii | ii V | iii V/ii | ii V | I I7 | IV #ivo | ii V | I",
}
"""Forms by name, bar by bar (common practice, no source); chords of a bar share it evenly."""

_SUFFIXES: Final = {
    Quality.MAJOR: "",
    Quality.DOMINANT: "7",
    Quality.MINOR: "m7",
    Quality.HALF_DIMINISHED: "m7b5",
    Quality.DIMINISHED: "dim7",
    Quality.AUGMENTED: "7#5",
    Quality.SUSPENDED: "7sus4",
    Quality.POWER: "5",
}


@dataclass(frozen=True, slots=True)
class FrameBar:
    """A bar: chords as offset in ticks and symbol, the meter, a section that begins here (or an empty text)."""

    chords: tuple[tuple[int, str], ...]
    meter: Meter
    section: str = ""


@dataclass(frozen=True, slots=True)
class Frame:
    """Bars with chords, in a key (None: nobody said)."""

    bars: tuple[FrameBar, ...]
    key: Key | None


def numeral_symbol(numeral: Numeral, key: Key) -> ChordSymbol:
    """The chord symbol of a function in a key, with the seventh that goes without saying.

    The root is spelled by its degree: ``bVI`` in Eb is Cb, not B. A name with two accidentals is respelled. The I, and
    IV, of a major key have major sevenths; the i of a minor key is a plain minor chord.
    """
    root = key.tonic_spelling
    for one in (numeral.of, numeral):
        if one is not None:
            root = _degree(root, one)
    suffix = _SUFFIXES[numeral.quality]
    if numeral.quality is Quality.MAJOR and numeral.degree in (1, 4) and not is_minor_mode(key.mode):
        suffix = "maj7"
    if numeral.quality is Quality.MINOR and numeral.degree == 1 and numeral.of is None:
        suffix = "m"
    symbol = parse_symbol("C" + suffix)
    return build_symbol(root, frozenset(symbol.tones))


def _degree(base: SpelledPitch, numeral: Numeral) -> SpelledPitch:
    letter = (base.letter + numeral.degree - 1) % 7
    target = base.pitch_class + LETTER_SEMITONES[numeral.degree - 1] + numeral.alteration
    alteration = (target - LETTER_SEMITONES[letter] + 6) % 12 - 6
    if abs(alteration) <= 1:
        return SpelledPitch(letter, alteration, None)
    return key_on(target, "major").tonic_spelling


def parse_numerals(text: str) -> tuple[Numeral, ...]:
    """Numerals in a row. Raises QueryError for an unknown one, none, or more than ``MOST_CHORDS``."""
    numerals = tuple(parse_numeral(word) for word in text.replace("|", " ").replace("-", " - ").split() if word != "-")
    if not 1 <= len(numerals) <= MOST_CHORDS:
        raise QueryError(f"--over {text[:40]!r} has {len(numerals)} chords: give 1 to {MOST_CHORDS}, as in 'ii V I'")
    return numerals


def mode_of_numerals(numerals: Sequence[Numeral], otherwise: str) -> str:
    """Whether numerals are of a major or a minor key: by their I, else by their ii, else as said."""
    tonics = [one for one in numerals if one.degree == 1 and one.alteration == 0 and one.of is None]
    if tonics:
        return "minor" if tonics[-1].quality is Quality.MINOR else "major"
    if any(one.is_ii and one.of is None and one.quality is Quality.HALF_DIMINISHED for one in numerals):
        return "minor"
    return otherwise


def progression_frame(numerals: Sequence[Numeral], key: Key, meter: Meter, bars_each: Fraction) -> Frame:
    """Numerals in a key, each so many bars (or half a bar) long; the last goes on to the end of its bar."""
    length = int(meter.bar_ticks * bars_each)
    places = [(index * length, numeral_symbol(one, key).canonical) for index, one in enumerate(numerals)]
    count = -(-len(numerals) * length // meter.bar_ticks)
    return Frame(tuple(FrameBar(_inside(places, i * meter.bar_ticks, meter), meter) for i in range(count)), key)


def _inside(places: Sequence[tuple[int, str]], start: int, meter: Meter) -> tuple[tuple[int, str], ...]:
    return tuple((at - start, symbol) for at, symbol in places if start <= at < start + meter.bar_ticks)


def form_frame(name: str, key: Key) -> Frame:
    """A form by its name, in a key. Raises QueryError for a name that is not in ``FORMS``."""
    text = FORMS.get(" ".join(name.lower().split()).replace("i-vi-ii-v", "I-VI-ii-V"))
    if text is None:
        raise QueryError(f"there is no form {name[:40]!r}: choose {', '.join(FORMS)}, or give --chart FILE")
    meter = Meter(4, 4)
    bars = []
    for index, bar in enumerate(text.split("|")):
        numerals = [parse_numeral(word) for word in bar.split()]
        share = meter.bar_ticks // len(numerals)
        chords = tuple((i * share, numeral_symbol(one, key).canonical) for i, one in enumerate(numerals))
        section = {0: "A", 8: "A", 16: "B", 24: "A"}.get(index, "") if text.count("|") == 31 else ""
        bars.append(FrameBar(chords, meter, section))
    return Frame(tuple(bars), key)


def chart_frame(chart: Chart) -> Frame:
    """A chart as a frame; text that is no chord symbol stays a text."""
    bars = tuple(
        FrameBar(
            tuple((round(chord.offset_beats * bar.meter.beat_ticks), _plain(chord.symbol)) for chord in bar.chords),
            bar.meter,
            bar.section or "",
        )
        for bar in chart.bars
    )
    return Frame(bars, chart.key)


def _plain(text: str) -> str:
    symbol = read_symbol(text)
    return text if symbol is None else symbol.canonical
