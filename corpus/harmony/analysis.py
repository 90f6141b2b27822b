"""One entry point for the harmony of a transcription: keys, numerals, levels, named progressions and form.

Nothing is ever refused: a symbol that cannot be read is kept as text, treated as no chord and reported with its bar and
beat; a declared key that the chart contradicts is reported and not used.
"""

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Final

from corpus.harmony.forms import RecognisedForm, recognise_form, sections_of
from corpus.harmony.functions import is_minor_mode, numerals_in_keys
from corpus.harmony.hearing import hear
from corpus.harmony.keys import KeyedChord, local_keys
from corpus.harmony.levels import LevelSpan, simplify_all
from corpus.harmony.modes import signature_of
from corpus.harmony.progressions import Progression, find_progressions
from corpus.harmony.spans import HarmonySpan
from corpus.harmony.symbols import ChordSymbol, Family, read_symbol
from corpus.model import TICKS_PER_QUARTER, Bar, ChordSpan, Finding, Section, Transcription
from corpus.pitch import Key

_CHARTS_KEPT: Final = 256

__all__ = ["Analysis", "HarmonySpan", "analyse", "analyse_chart"]


@dataclass(frozen=True, slots=True)
class Analysis:
    """The harmony of one line.

    ``spans`` has one item for each written chord symbol; ``levels`` the chart at the four levels of
    ``corpus.harmony.levels``; ``form`` the form recognised from the chords, None when none is sure, and ``sections``
    the sections it would lay over the line. ``bar_ticks`` is the usual length of a bar.
    """

    spans: tuple[HarmonySpan, ...]
    home: Key | None
    levels: tuple[tuple[LevelSpan, ...], ...]
    progressions: tuple[Progression, ...]
    form: RecognisedForm | None
    sections: tuple[Section, ...]
    findings: tuple[Finding, ...]
    bar_ticks: int = 4 * TICKS_PER_QUARTER

    def progressions_at(self, level: int) -> tuple[Progression, ...]:
        """The named progressions of the chart at a simplification level; ``chords`` are then indexes into the level."""
        if level == 0:
            return self.progressions
        spans = [HarmonySpan(s.onset_ticks, s.end_ticks, "", None, s.numeral, s.key) for s in self.levels[level]]
        return find_progressions(spans, self.bar_ticks)

    def span_at(self, onset_ticks: int) -> HarmonySpan | None:
        """The chord in force at a tick, or None."""
        index = bisect_right(self.spans, onset_ticks, key=lambda span: span.onset_ticks) - 1
        if index < 0 or onset_ticks >= self.spans[index].end_ticks:
            return None
        return self.spans[index]


def analyse(transcription: Transcription) -> Analysis:
    """The harmony of a transcription, with its key (``details.key``) as declared. Never raises.

    Choruses over one chart are common, and comparing charts is far cheaper than analysing them: the last ones are kept.
    """
    return _analysed(transcription.chords, transcription.bars, transcription.details.key)


@lru_cache(maxsize=_CHARTS_KEPT)
def _analysed(chords: tuple[ChordSpan, ...], bars: tuple[Bar, ...], declared: Key | None) -> Analysis:
    return analyse_chart(chords, bars, declared)


def analyse_chart(chords: Sequence[ChordSpan], bars: Sequence[Bar], declared: Key | None = None) -> Analysis:
    """The harmony of a chart: chord symbols in order of onset over played bars. Never raises."""
    bar_onsets = [bar.onset_ticks for bar in bars]
    symbols = [read_symbol(chord.symbol) for chord in chords]
    keyed = [
        KeyedChord(symbol, max(chord.end_ticks - chord.onset_ticks, 0) / TICKS_PER_QUARTER)
        for chord, symbol in zip(chords, symbols, strict=True)
    ]
    heard = hear(symbols)
    found = local_keys(keyed, declared, heard, _new_signatures(chords, bars, bar_onsets))
    home = _in_mode(found.home, declared)
    keys = [_in_mode(key, declared) for key in _with_their_dominants(found.keys, symbols)]
    numerals = numerals_in_keys(symbols, keys, heard)
    spans = tuple(
        HarmonySpan(chord.onset_ticks, chord.end_ticks, chord.symbol, symbol, numeral, key)
        for chord, symbol, numeral, key in zip(chords, symbols, numerals, keys, strict=True)
    )
    form = recognise_form(spans, bars)
    bar_ticks = _usual_bar_ticks(bars)
    findings = [_unreadable(span, bars, bar_onsets) for span in spans if span.symbol is None]
    if found.contradicts_declared:
        text = f"the key is given as {declared}, but the chords are in {home}: the given key was not used"
        findings.insert(0, Finding("chord", text))
    return Analysis(
        spans,
        home,
        simplify_all(spans),
        tuple(sorted((*find_progressions(spans, bar_ticks), *_blues(form, spans, bars, home)), key=_place)),
        form,
        () if form is None else sections_of(form, bars),
        tuple(findings),
        bar_ticks,
    )


def _new_signatures(
    chords: Sequence[ChordSpan], bars: Sequence[Bar], bar_onsets: Sequence[int]
) -> list[Key | None] | None:
    """For every chord the signature over it where that is another than the line's first; None if it never changes."""
    first = next((bar.key for bar in bars if bar.key is not None), None)
    if first is None or all(bar.key is None or bar.key == first for bar in bars):
        return None
    found: list[Key | None] = []
    for chord in chords:
        key = bars[max(bisect_right(bar_onsets, chord.onset_ticks) - 1, 0)].key
        is_new = key is not None and signature_of(key) != signature_of(first)
        found.append(key if is_new else None)
    return found


def _place(progression: Progression) -> tuple[int, int, str]:
    return (progression.onset_ticks, -progression.end_ticks, progression.name)


def _blues(
    form: RecognisedForm | None, spans: Sequence[HarmonySpan], bars: Sequence[Bar], home: Key | None
) -> list[Progression]:
    """Each chorus of a recognised blues as a progression of its own."""
    if form is None or home is None or "blues" not in form.name:
        return []
    onsets = [span.onset_ticks for span in spans]
    found = []
    for first in range(form.first_bar, len(bars) - form.form.bars + 1, form.form.bars):
        last = bars[first + form.form.bars - 1]
        onset, end = bars[first].onset_ticks, last.onset_ticks + last.length_ticks
        chords = (max(bisect_right(onsets, onset) - 1, 0), bisect_right(onsets, end - 1))
        found.append(Progression(form.name, onset, end, chords, home))
    return found


def _with_their_dominants(keys: Sequence[Key | None], symbols: Sequence[ChordSymbol | None]) -> list[Key | None]:
    """The keys, a ii at the end of a passage moved into the key of the V that follows it, to which it belongs."""
    moved = list(keys)
    for index, (symbol, following) in enumerate(pairwise(symbols)):
        key = keys[index + 1]
        if symbol is None or following is None or key is None or key == keys[index]:
            continue
        is_two = symbol.family in (Family.MINOR, Family.HALF_DIMINISHED)
        is_five = following.family in (Family.DOMINANT, Family.SUSPENDED)
        roots = (symbol.root_pitch_class, following.root_pitch_class)
        tonic = key.tonic_pitch_class
        if is_two and is_five and roots == ((tonic + 2) % 12, (tonic + 7) % 12):
            moved[index] = key
    return moved


def _in_mode(key: Key | None, declared: Key | None) -> Key | None:
    """The local key, as the mode that was declared on its tonic: D dorian where D minor was found."""
    if key is None or declared is None or key.tonic_pitch_class != declared.tonic_pitch_class:
        return key
    return declared if is_minor_mode(key.mode) == is_minor_mode(declared.mode) else key


def _usual_bar_ticks(bars: Sequence[Bar]) -> int:
    lengths = [bar.length_ticks for bar in bars]
    return max(set(lengths), key=lengths.count) if lengths else 4 * TICKS_PER_QUARTER


def _unreadable(span: HarmonySpan, bars: Sequence[Bar], bar_onsets: Sequence[int]) -> Finding:
    text = f"chord symbol {span.symbol_text!r} cannot be read: it is kept, and counts as no chord"
    index = bisect_right(bar_onsets, span.onset_ticks) - 1
    if index < 0:
        return Finding("chord", text)
    bar = bars[index]
    return Finding("chord", text, bar.number, bar.beat_at(span.onset_ticks), bar.pass_number)
