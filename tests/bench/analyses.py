"""Our keys and numerals beside those of human analysts: the RomanText analyses that music21 ships.

Sources, all in music21's corpus: 20 Bach chorales (analysts named in the files: A. Jones, D. Tymoczko and others) and
48 Monteverdi madrigals of books 3, 4 and 5. The analyst's numerals are turned into plain chord symbols (``F#m7b5/A``);
our analysis sees those symbols and their lengths, and nothing else: no phrase marks, no signature.

Two chords agree in **key** when tonic and mode are the analyst's; in **numeral** when, besides, root, quality and
target (V/ii) are. Where an analyst writes two readings of a pivot chord, either will do. Known differences of spelling,
not counted: a leading-note chord of x (``viio/V``) is our ``#ivo``; the V of a key is one function as triad and as
seventh; degrees count on the major scale in both modes.

The files of each group stand in two halves, one in turn: costs were tuned on the first of each pair, the second was
held out.
"""

import re
import time
import warnings
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Final

from corpus.harmony.analysis import analyse_chart
from corpus.harmony.functions import Numeral, Quality, costs_in_keys, numerals_in_keys, parse_numeral
from corpus.harmony.keys import KeyedChord, local_keys
from corpus.harmony.symbols import parse_symbol, read_symbol
from corpus.pitch import Key, parse_spelling
from tests.corpus.harmony.charts_help import bars, chords, expected, found
from tests.corpus.harmony.textbook import HELD_OUT, TUNED

GROUPS: Final = {"Bach chorales": "bach/choraleAnalyses", "Monteverdi madrigals": "monteverdi"}
AIM_KEYS, AIM_NUMERALS = 0.90, 0.85

_SYMBOLS: Final = {
    # Pitch classes above the root, and the lead-sheet spelling.
    (0, 4, 7): "",
    (0, 3, 7): "m",
    (0, 3, 6): "dim",
    (0, 4, 8): "+",
    (0, 4, 7, 11): "maj7",
    (0, 4, 7, 10): "7",
    (0, 3, 7, 10): "m7",
    (0, 3, 7, 11): "m(maj7)",
    (0, 3, 6, 10): "m7b5",
    (0, 3, 6, 9): "dim7",
    (0, 4, 8, 11): "maj7#5",
    (0, 4, 8, 10): "7#5",
    (0, 4, 10): "7",
    (0, 4): "",
    (0, 3): "m",
    (0, 7): "5",
    (0,): "5",
    (0, 2, 4, 7, 10): "9",
    (0, 2, 3, 7, 10): "m7",
}


@dataclass(frozen=True, slots=True)
class Analysed:
    """One chord of an analysis: the symbol we are shown, and what the analyst wrote of it.

    ``length`` in quarter notes; ``key`` is tonic pitch class and whether minor; ``numeral`` is root and target in
    semitones above the tonic (target None for none) and the quality; ``pivot`` is the other reading of a pivot chord.
    """

    symbol: str
    length: float
    key: tuple[int, bool]
    numeral: tuple[int, str, int | None]
    figure: str
    pivot: "Analysed | None" = None


@dataclass
class Score:
    """Counts of one half: chords and quarter notes, all and agreed, and what was confused."""

    chords: int = 0
    keys: int = 0
    numerals: int = 0
    quarters: float = 0.0
    key_quarters: float = 0.0
    numeral_quarters: float = 0.0
    key_confusions: Counter[str] = field(default_factory=Counter)
    numeral_confusions: Counter[str] = field(default_factory=Counter)


def files(group: str) -> list[Path]:
    """The RomanText files of a group, in order of name."""
    import music21

    return sorted((Path(music21.__file__).parent / "corpus" / GROUPS[group]).glob("*.rntxt"))


def read(file: Path) -> list[Analysed]:
    """The chords of an analysis; those whose notes make no chord of ours are left out (they are counted by nobody)."""
    from music21 import converter, roman

    pivots = _pivots(file.read_text(encoding="utf-8"))
    result: list[Analysed] = []
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        score = converter.parse(str(file), format="romantext")
        for chord in score.flatten().getElementsByClass(roman.RomanNumeral):
            analysed = _analysed(chord)
            if analysed is None:
                continue
            other = pivots.get((int(chord.measureNumber or 0), float(chord.beat)))
            if other is not None:
                pivot = _analysed(roman.RomanNumeral(_figure(other[1]), other[0]))
                analysed = replace(analysed, pivot=pivot)
            result.append(analysed)
    return result


_TOKEN = re.compile(r"(?P<beat>b[\d.]+)|(?P<key>[A-Ga-g][#b]*):|(?P<mark>:?\|\|:?)|(?P<chord>[#b]*[IViv]+\S*)|\S+")


def _pivots(text: str) -> dict[tuple[int, float], tuple[str, str]]:
    """First readings of pivot chords (``vi d: ii``): key and figure, by measure and beat."""
    found: dict[tuple[int, float], tuple[str, str]] = {}
    key = ""
    for line in text.splitlines():
        measure = re.match(r"m(\d+)\s", line)
        if measure is None:
            continue
        beat, before, changed_from = 1.0, "", ""
        for token in _TOKEN.finditer(line[measure.end() :]):
            if token["beat"]:
                beat, before = float(token["beat"][1:]), ""
            elif token["mark"]:
                before = ""
            elif token["key"]:
                changed_from, key = key, token["key"].replace("b", "-") if len(token["key"]) > 1 else token["key"]
            elif token["chord"] is None:
                before = ""
            else:
                if before and changed_from:
                    found[int(measure[1]), beat] = (changed_from, before)
                before, changed_from = token["chord"], ""
    return found


def _figure(text: str) -> str:
    """A RomanText numeral in music21's spelling: ``viio6/5`` is ``viio65``."""
    return re.sub(r"(?<=\d)/(?=\d)", "", text.replace("/o", "ø"))


def _analysed(chord: Any) -> Analysed | None:
    tonic = parse_spelling(chord.key.tonic.name.replace("-", "b")).pitch_class
    classes = {pitch.pitchClass for pitch in chord.pitches}
    roots = [chord.root(), *chord.pitches]
    for root in roots:
        above = tuple(sorted((pitch_class - root.pitchClass) % 12 for pitch_class in classes))
        suffix = _SYMBOLS.get(above)
        if suffix is not None:
            break
    else:
        return None
    name = root.name.replace("-", "b")
    bass = chord.bass().name.replace("-", "b")
    symbol = name + suffix + ("" if bass == name else f"/{bass}")
    target = None
    secondary = chord.secondaryRomanNumeral
    if secondary is not None:
        target = (secondary.root().pitchClass - tonic) % 12
    root_step = (root.pitchClass - tonic) % 12
    above_target = (root_step - (target or 0)) % 12
    quality = _quality(suffix, above_target)
    return Analysed(
        symbol,
        float(chord.quarterLength),
        (tonic, chord.key.mode == "minor"),
        (root_step, quality, target),
        chord.figure,
    )


def _quality(suffix: str, step: int) -> str:
    if suffix in ("m", "m7", "m(maj7)"):
        return Quality.MINOR
    if suffix in ("dim", "dim7"):
        return Quality.DIMINISHED
    if suffix == "m7b5":
        return Quality.HALF_DIMINISHED
    if suffix in ("+", "maj7#5"):
        return Quality.AUGMENTED
    if suffix == "5":
        return Quality.POWER
    is_dominant = suffix in ("7", "9", "7#5") or (step == 7 and suffix == "")
    return Quality.DOMINANT if is_dominant else Quality.MAJOR


def ours(numeral: Numeral) -> tuple[int, str, int | None]:
    """Our numeral in the terms of the comparison: a chromatic leading-note chord names the degree it leads to."""
    root = numeral.root_semitones
    if numeral.of is not None:
        return root, numeral.quality, numeral.of.root_semitones
    leads = numeral.alteration > 0 or (numeral.degree, numeral.alteration) == (3, 0)
    if numeral.quality in (Quality.DIMINISHED, Quality.HALF_DIMINISHED) and leads:
        return root, numeral.quality, (root + 1) % 12
    return root, numeral.quality, None


def judge(pieces: Sequence[Sequence[Analysed]]) -> Score:
    """Run our analysis on the symbols of every piece and count."""
    score = Score()
    for piece in pieces:
        symbols = [parse_symbol(chord.symbol) for chord in piece]
        keys = local_keys([KeyedChord(symbol, chord.length) for symbol, chord in zip(symbols, piece, strict=True)]).keys
        numerals = numerals_in_keys(symbols, keys)
        for chord, key, numeral in zip(piece, keys, numerals, strict=True):
            assert key is not None
            assert numeral is not None
            _count(score, chord, key, numeral)
    return score


def _count(score: Score, chord: Analysed, key: Key, numeral: Numeral) -> None:
    score.chords += 1
    score.quarters += chord.length
    own = (key.tonic_pitch_class, key.mode == "minor")
    if chord.pivot is not None and own == chord.pivot.key:
        chord = replace(chord.pivot, length=chord.length)
    if own != chord.key:
        step = (key.tonic_pitch_class - chord.key[0]) % 12
        score.key_confusions[f"{'minor' if chord.key[1] else 'major'} as {key.mode} +{step}"] += 1
        return
    score.keys += 1
    score.key_quarters += chord.length
    if ours(numeral) == chord.numeral:
        score.numerals += 1
        score.numeral_quarters += chord.length
    else:
        score.numeral_confusions[f"{chord.figure} as {numeral}"] += 1


def _lines(group: str, half: str, score: Score) -> Iterator[str]:
    keys, numerals = score.keys / score.chords, score.numerals / score.chords
    yield (
        f"{group}, {half}: {score.chords} chords; "
        f"keys {keys:.1%} (by length {score.key_quarters / score.quarters:.1%}), aim {AIM_KEYS:.0%} "
        f"{'met' if keys >= AIM_KEYS else 'MISSED'}; "
        f"numerals {numerals:.1%} (by length {score.numeral_quarters / score.quarters:.1%}), aim {AIM_NUMERALS:.0%} "
        f"{'met' if numerals >= AIM_NUMERALS else 'MISSED'}"
    )
    for title, counter in (("keys", score.key_confusions), ("numerals", score.numeral_confusions)):
        common = ", ".join(f"{name} ({count})" for name, count in counter.most_common(8))
        yield f"    {title} confused (analyst's as ours): {common or 'none'}"


def _textbook() -> Iterator[str]:
    for half, progressions in (("tuned", TUNED), ("held out until its misses were seen once", HELD_OUT)):
        agreed = total = whole = 0
        for progression in progressions:
            pairs = list(zip(found(progression.chart), expected(progression.numerals), strict=True))
            agreed += sum(ours == wanted for ours, wanted in pairs)
            whole += all(ours == wanted for ours, wanted in pairs)
            total += len(pairs)
        yield (
            f"Textbook progressions (common practice), {half}: {whole} of {len(progressions)} wholly as expected; "
            f"key and numeral of {agreed / total:.1%} of {total} chords"
        )


def _speed() -> str:
    """The median of analysing a 64-bar chart with nothing remembered from earlier charts, in milliseconds."""
    section = "Bb6 G7|Cm7 F7|Bb6 G7|Cm7 F7|Fm7 Bb7|Eb6 Edim7|Bb6 G7|Cm7 F7"
    bridge = "Am7 D7|Abm7 Db7|Gm7 C7|F#m7 B7|Em7 A7|Ebm7 Ab7|Cm7 F7|Dm7b5 G7"
    spans, count = chords("|".join((section, section, bridge, section) * 2))
    played = bars(count)
    times = []
    for _ in range(15):
        for remembered in (costs_in_keys, parse_numeral, read_symbol):
            if hasattr(remembered, "cache_clear"):
                remembered.cache_clear()
        begun = time.perf_counter()
        analyse_chart(spans, played)
        times.append(1000 * (time.perf_counter() - begun))
    middle = sorted(times)[len(times) // 2]
    return (
        f"analysing {count} bars, {len(spans)} chords: {middle:.1f} ms, aim 10 ms {'met' if middle < 10 else 'MISSED'}"
    )


def report() -> list[str]:
    """Speed, textbook progressions, and agreement with the analysts: a few lines for each group and half.

    Reading all analyses with music21 takes about two minutes.
    """
    lines = [_speed(), *_textbook()]
    for group in GROUPS:
        pieces = [read(file) for file in files(group)]
        for half, chosen in (("tuned", pieces[::2]), ("held out", pieces[1::2])):
            lines += _lines(group, half, judge(chosen))
    return lines
