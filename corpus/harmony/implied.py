"""Implied harmony: which chord the line itself spells, bar by bar, and how that stands to the chord that is written.

The stretch that is judged is a written chord, cut at bar lines; a V that follows its ii is also judged by what was
played over the ii. ``corpus.harmony.spelled`` says how likely each chord is from the
notes alone. The relation is then a comparison of a few hypotheses: the chord as written, and the readings that
musicians name. A reading other than the written chord is told only when the notes are at least ``FAVOUR`` times as
likely under it (the ratio of likelihoods, called positive evidence from 3 and strong from 20 by Kass & Raftery, "Bayes
Factors", *Journal of the American Statistical Association* 90, 1995; from memory) and when it meets its own condition:

=============== ====================================================================================================
agrees          the notes spell the written chord; or all but passing and leading ones are tones of it, or its third,
                another tone and available tensions
stays on the ii over a V that follows its ii, only tones of the ii (besides passing ones), at least one of which the V
                lacks; the third of the V is not played
leans to IV     over a major chord that is no dominant its minor seventh is played, and not its major one; with the
                third or the fifth it is a dominant of the chord a fourth up, root or no root
anticipates     the next written chord is spelled
delays          the chord written before is spelled
superimposes    a triad of other tones than the chord's own: all three are played and carry most of the stretch
                (``TRIAD_SHARE``), two or more of them are no tones of the written chord
undecided       none of these: the notes do not decide
=============== ====================================================================================================

Besides, a *cadence* is told where the last note over a chord and the first over the next are 5 and 1 of the next, and
the written chord is neither its dominant (nor the substitute) nor a chord on the same root; a chord without a perfect
fifth is no goal of a cadence. The readings and the trade
facts behind them (a minor cliché over ii-V that resolves to the 5th of I treats the V as absent; a b7 over I without
its root still makes it a dominant of IV) are common practice, no source.

With fewer than ``FEWEST_CLASSES`` different pitch classes over a stretch nothing is told, except that they are the
chord's own.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from math import exp, log
from typing import Final, Literal

from corpus.harmony.evidence import is_bass, weigh
from corpus.harmony.roles import degree_in
from corpus.harmony.spans import HarmonySpan
from corpus.harmony.spelled import QUALITIES, Heard, Spelled, score, spell
from corpus.harmony.symbols import ChordSymbol, Family, build_symbol, transpose_symbol
from corpus.model import Transcription
from corpus.pitch import parse_spelling

Relation = Literal[
    "agrees", "stays on the ii", "leans to IV", "anticipates", "delays", "superimposes", "undecided", "no chord written"
]
FAVOUR: Final = 4.0
LEAST_PROBABILITY: Final = 0.5
TRIAD_SHARE: Final = 0.7
"""How much of the weight of a stretch a superimposed triad must carry."""
FEWEST_CLASSES: Final = 3
MAIN_WEIGHT: Final = 0.45
"""Notes that weigh less are passing, turning or leading ones: no reading rests on them."""
_TRIADS: Final = {"": "major", "m": "minor", "dim": "diminished", "+": "augmented"}
_MINOR_FAMILIES: Final = (Family.MINOR, Family.HALF_DIMINISHED)
_DOMINANTS: Final = (Family.DOMINANT, Family.SUSPENDED)


@dataclass(frozen=True, slots=True)
class Implied:
    """What the line spells over one stretch of a chart.

    ``first`` and ``last`` are its notes (``last`` is before ``first`` where none starts); ``written`` the chord symbol
    as written, None for none. ``symbol`` is the chord that the line implies, None where the notes do not decide.
    ``favour`` says how many times as likely the notes are under it as under the written chord, ``probability`` how
    likely the best chord is among all. ``detail`` names what the relation is about (a triad with its degrees, the chord
    leaned to). ``is_rootless`` says that the implied chord's root is not played. ``cadence`` is the chord that is
    reached by 5-1 without its dominant, or None.
    """

    onset_ticks: int
    end_ticks: int
    first: int
    last: int
    written: str | None
    relation: Relation
    symbol: str | None = None
    probability: float = 0.0
    favour: float = 1.0
    detail: str = ""
    is_rootless: bool = False
    cadence: str | None = None

    @property
    def note_count(self) -> int:
        """Notes that start in the stretch."""
        return max(self.last - self.first + 1, 0)


@dataclass(frozen=True, slots=True)
class _Stretch:
    onset_ticks: int
    end_ticks: int
    span: int | None


class _Judge:
    """One line and its chords, with what every stretch needs to know."""

    def __init__(self, line: Transcription, spans: Sequence[HarmonySpan]) -> None:
        self.line = line
        self.spans = spans
        self.onsets = [note.onset_ticks for note in line.notes]
        self.is_bass = is_bass(line)

    @cached_property
    def changes(self) -> list[int | None]:
        """For each span the next one with another chord, or None."""
        found: list[int | None] = []
        following: int | None = None
        for index in reversed(range(len(self.spans))):
            later = self.spans[index + 1] if index + 1 < len(self.spans) else None
            if later is not None and _name(later) != _name(self.spans[index]):
                following = index + 1
            found.append(following if later is not None else None)
        return found[::-1]

    def notes(self, start: int, end: int) -> tuple[int, int]:
        """First and last note that start in a stretch of time."""
        return bisect_left(self.onsets, start), bisect_left(self.onsets, end) - 1

    def heard(self, start: int, end: int) -> list[Heard]:
        """The notes of a stretch as evidence."""
        first, last = self.notes(start, end)
        return weigh(self.line, first, last, start, root_place=self.is_bass) if last >= first else []

    def before(self, index: int) -> HarmonySpan | None:
        """The last span before one that bears another chord, when it ends where the same chord begins."""
        name = _name(self.spans[index])
        while index > 0 and self.spans[index - 1].end_ticks == self.spans[index].onset_ticks:
            index -= 1
            if _name(self.spans[index]) != name:
                return self.spans[index]
        return None

    def after(self, index: int) -> HarmonySpan | None:
        """The next span with another chord."""
        following = self.changes[index]
        return None if following is None else self.spans[following]

    def judge(self, stretch: _Stretch) -> Implied:
        """What the line spells over a stretch."""
        first, last = self.notes(stretch.onset_ticks, stretch.end_ticks)
        heard = self.heard(stretch.onset_ticks, stretch.end_ticks)
        span = None if stretch.span is None else self.spans[stretch.span]
        written = None if span is None or span.symbol is None or span.symbol.root is None else span.symbol
        place = (stretch.onset_ticks, stretch.end_ticks, first, last)
        text = None if span is None else span.symbol_text
        ranked = spell(heard)
        if written is None or stretch.span is None:
            return self._without_chord(place, text, heard, ranked)
        cadence = self._cadence(stretch, stretch.span, last)
        if not ranked:
            return Implied(*place, text, "undecided", cadence=cadence)
        found = _Found(self, stretch, stretch.span, written, heard, ranked)
        relation, symbol, detail = found.relation()
        favour = 1.0 if symbol is None else found.favour_of(symbol)
        name = None if symbol is None else symbol.canonical
        rootless = symbol is not None and all(symbol.root_pitch_class != note.pitch_class for note in heard)
        return Implied(*place, text, relation, name, likeliest(ranked)[1], favour, detail, rootless, cadence)

    def _without_chord(
        self, place: tuple[int, int, int, int], text: str | None, heard: Sequence[Heard], ranked: Sequence[Spelled]
    ) -> Implied:
        classes = {note.pitch_class for note in heard}
        if len(classes) < FEWEST_CLASSES or ranked[0].probability < LEAST_PROBABILITY:
            return Implied(*place, text, "no chord written")
        symbol = self.symbol_of(ranked[0], place[2], place[3])
        rootless = ranked[0].root not in classes
        return Implied(*place, text, "no chord written", symbol.canonical, ranked[0].probability, is_rootless=rootless)

    def _cadence(self, stretch: _Stretch, index: int, last: int) -> str | None:
        """The chord that the last note and the next one reach as 5 and 1, where its dominant is not written."""
        following = self.after(index)
        here = self.spans[index].symbol
        if following is None or following.symbol is None or here is None or following.onset_ticks != stretch.end_ticks:
            return None
        root, own = following.symbol.root_pitch_class, here.root_pitch_class
        if (
            root is None
            or own is None
            or 7 not in following.symbol.tones
            or (own - root) % 12 in (0, 1, 7)
            or last < 0
            or last + 1 >= len(self.line.notes)
        ):
            return None
        five, one = self.line.notes[last], self.line.notes[last + 1]
        if five.pitch is None or one.pitch is None or five.onset_ticks < stretch.onset_ticks:
            return None
        is_there = one.onset_ticks == following.onset_ticks and one.pitch % 12 == root
        return following.symbol_text if is_there and one.pitch - five.pitch in (5, -7) else None

    def symbol_of(self, chord: Spelled, first: int, last: int) -> ChordSymbol:
        """A spelled chord as a symbol, its root named as the line names it, else as is common."""
        names = (self.line.notes[i].spelling for i in range(first, last + 1))
        played = (parse_spelling(name) for name in names if name)
        root = next((p for p in played if p.pitch_class == chord.root and abs(p.alteration) < 2), None)
        tones = frozenset(QUALITIES[chord.suffix][0])
        if root is not None:
            return build_symbol(type(root)(root.letter, root.alteration, None), tones)
        of_c = build_symbol(parse_spelling("C"), tones)
        return transpose_symbol(of_c, chord.root) if chord.root else of_c


def likeliest(ranked: Sequence[Spelled]) -> tuple[Spelled, float]:
    """The likeliest chord of the likeliest root and third, and the probability of that root and third."""
    sums: dict[tuple[int, bool], float] = {}
    for chord in ranked:
        sums[chord.root, chord.has_minor_third] = sums.get((chord.root, chord.has_minor_third), 0.0) + chord.probability
    best = max(sums, key=lambda pair: (sums[pair], -pair[0]))
    return next(chord for chord in ranked if (chord.root, chord.has_minor_third) == best), sums[best]


def _root_of(span: HarmonySpan) -> int | None:
    return None if span.symbol is None else span.symbol.root_pitch_class


def _name(span: HarmonySpan) -> str:
    return span.symbol_text if span.symbol is None else span.symbol.canonical


class _Found:
    """The hypotheses about one stretch."""

    def __init__(
        self,
        judge: _Judge,
        stretch: _Stretch,
        index: int,
        written: ChordSymbol,
        heard: Sequence[Heard],
        ranked: Sequence[Spelled],
    ) -> None:
        self.judge, self.stretch, self.index = judge, stretch, index
        self.written, self.heard, self.ranked = written, heard, ranked
        self.classes = {note.pitch_class for note in heard}
        self.main = {note.pitch_class for note in heard if note.weight > MAIN_WEIGHT}
        self.written_score = _score_of(heard, written)

    def favour_of(self, symbol: ChordSymbol) -> float:
        """How many times as likely the notes are under a chord as under the written one."""
        return exp(min(_score_of(self.heard, symbol) - self.written_score, 50.0))

    def _is_favoured(self, symbol: ChordSymbol) -> bool:
        return _score_of(self.heard, symbol) - self.written_score >= log(FAVOUR)

    def relation(self) -> tuple[Relation, ChordSymbol | None, str]:
        """The relation, the implied chord (None where nothing is decided) and what it is about."""
        if len(self.classes) < FEWEST_CLASSES:
            return ("agrees", self.written, "") if self.classes <= self.written.pitch_classes else self._or_nothing()
        for reading in (self._stays_on_two, self._leans_to_four):
            found = reading()
            if found is not None:
                return found
        if self.main <= self.written.pitch_classes and len(self.main) > 1:
            return "agrees", self.written, ""
        for reading in (self._anticipates, self._delays, self._superimposes):
            found = reading()
            if found is not None:
                return found
        return self._agrees_or_nothing()

    def _or_nothing(self) -> tuple[Relation, ChordSymbol | None, str]:
        found = self._stays_on_two()
        return found if found is not None else ("undecided", None, "")

    def _agrees_or_nothing(self) -> tuple[Relation, ChordSymbol | None, str]:
        root, minor = self.written.root_pitch_class, _is_minor(self.written)
        like = sum(
            c.probability
            for c in self.ranked
            if (c.root == root and c.has_minor_third == minor) or c.tones <= self.written.pitch_classes
        )
        return (
            ("agrees", self.written, "") if like >= 0.5 or self._has_third_and_tensions() else ("undecided", None, "")
        )

    def _has_third_and_tensions(self) -> bool:
        """Whether the chord's third and another tone are played, and all else that counts are tensions of it."""
        root = self.written.root_pitch_class
        assert root is not None
        degrees = {(pitch_class - root) % 12 for pitch_class in self.main}
        tones = degrees & set(self.written.tones)
        return bool(tones & {3, 4}) and len(tones) > 1 and degrees <= {*self.written.tones, *self.written.tensions}

    def _stays_on_two(self) -> tuple[Relation, ChordSymbol | None, str] | None:
        """The written chord is a V after its ii, and the line spells the ii."""
        before, root = self.judge.before(self.index), self.written.root_pitch_class
        if before is None or before.symbol is None or root is None or self.written.family not in _DOMINANTS:
            return None
        two = before.symbol
        if two.family not in _MINOR_FAMILIES or two.root_pitch_class != (root + 7) % 12:
            return None
        if not self.heard or not self._is_favoured(two) or not self.main <= two.pitch_classes:
            return None
        if any((note.pitch_class - root) % 12 == 4 for note in self.heard):
            return None
        # A half bar has two notes: what was played over the ii itself is heard on.
        earlier = {note.pitch_class for note in self.judge.heard(before.onset_ticks, self.stretch.onset_ticks)}
        is_spelled = len((earlier | self.main) & two.pitch_classes) >= FEWEST_CLASSES
        is_new = self.main - self.written.pitch_classes
        return ("stays on the ii", two, "") if is_spelled and is_new else None

    def _leans_to_four(self) -> tuple[Relation, ChordSymbol | None, str] | None:
        """A minor seventh over a major chord that has none makes it a dominant."""
        root = self.written.root_pitch_class
        if root is None or self.written.family is not Family.MAJOR or self.written.root is None:
            return None
        degrees = {(pitch_class - root) % 12 for pitch_class in self.main}
        resolves = self._resolves_to_third_of_four(root)
        if not (10 in degrees or resolves) or 11 in degrees or not degrees & {4, 7} or 3 in degrees:
            return None
        dominant = build_symbol(self.written.root, frozenset({0, 4, 7, 10}))
        following = self.judge.after(self.index)
        goal = transpose_symbol(build_symbol(self.written.root, frozenset({0, 4, 7})), 5, 3)
        where = goal.canonical
        if following is not None and _root_of(following) == goal.root_pitch_class:
            where = following.symbol_text
        return ("leans to IV", dominant, where) if resolves or self._is_favoured(dominant) else None

    def _resolves_to_third_of_four(self, root: int) -> bool:
        """Whether the last note is the minor seventh and falls to the third of a chord a fourth up."""
        following = self.judge.after(self.index)
        notes, last = self.judge.line.notes, self.judge.notes(self.stretch.onset_ticks, self.stretch.end_ticks)[1]
        if following is None or _root_of(following) != (root + 5) % 12 or last + 1 >= len(notes):
            return False
        seventh, third = notes[last].pitch, notes[last + 1].pitch
        if seventh is None or third is None or notes[last + 1].onset_ticks != following.onset_ticks:
            return False
        return (seventh - root) % 12 == 10 and seventh - third == 1

    def _neighbour(self, other: HarmonySpan | None) -> ChordSymbol | None:
        """Another written chord, if the line spells it rather than the one written here."""
        if other is None or other.symbol is None or other.symbol.root is None:
            return None
        symbol = other.symbol
        if not self._is_favoured(symbol) or symbol.pitch_classes <= self.written.pitch_classes:
            return None
        return symbol if self.main <= symbol.pitch_classes and len(self.main) >= FEWEST_CLASSES else None

    def _anticipates(self) -> tuple[Relation, ChordSymbol | None, str] | None:
        following = self.judge.after(self.index)
        if following is not None and following.onset_ticks != self.stretch.end_ticks:
            return None
        symbol = self._neighbour(following)
        return None if symbol is None else ("anticipates", symbol, "")

    def _delays(self) -> tuple[Relation, ChordSymbol | None, str] | None:
        if self.stretch.onset_ticks != self.judge.spans[self.index].onset_ticks:
            return None
        symbol = self._neighbour(self.judge.before(self.index))
        return None if symbol is None else ("delays", symbol, "")

    def _superimposes(self) -> tuple[Relation, ChordSymbol | None, str] | None:
        """The likeliest triad whose three tones are all played and are mostly no tones of the written chord."""
        root = self.written.root_pitch_class
        assert root is not None
        own = self.written.pitch_classes
        for chord in self.ranked[:12]:
            if chord.suffix not in _TRIADS or not chord.tones <= self.main or len(chord.tones - own) < 2:
                continue
            carried = sum(note.weight for note in self.heard if note.pitch_class in chord.tones)
            if carried < TRIAD_SHARE * sum(note.weight for note in self.heard):
                continue
            symbol = self.judge.symbol_of(chord, *self.judge.notes(self.stretch.onset_ticks, self.stretch.end_ticks))
            if not self._is_favoured(symbol):
                continue
            tones = [(chord.root + tone) % 12 for tone in QUALITIES[chord.suffix][0]]
            degrees = " ".join(degree_in(self.written, (tone - root) % 12) for tone in tones)
            name = f"{symbol.root} {_TRIADS[chord.suffix]} triad over {self.written.text}: {degrees}"
            return "superimposes", symbol, name
        return None


def _is_minor(symbol: ChordSymbol) -> bool:
    return 3 in symbol.tones and 4 not in symbol.tones


def _score_of(heard: Sequence[Heard], symbol: ChordSymbol) -> float:
    """The log likelihood of the notes over a chord symbol, its tones in the order root, third, fifth, others."""
    order = (0, 3, 4, 7, 6, 8)
    rank = {tone: place for place, tone in enumerate(order)}
    tones = tuple(sorted(symbol.tones, key=lambda tone: (rank.get(tone, 20 + tone), tone)))
    assert symbol.root_pitch_class is not None
    return score(heard, symbol.root_pitch_class, tones, symbol.tensions)


def implied_harmony(
    line: Transcription, spans: Sequence[HarmonySpan], within: tuple[int, int] | None = None
) -> tuple[Implied, ...]:
    """What the line spells over every stretch of its chart, in order; ``spans`` as ``analyse`` gives them.

    ``within`` limits the account to stretches that begin between two ticks (the second not included).

    Bars without a chord are stretches of their own. Never raises. Cost: linear in notes and stretches.
    """
    judge = _Judge(line, spans)
    start, end = within or (0, line.end_ticks + 1)
    return tuple(judge.judge(stretch) for stretch in _stretches(line, spans) if start <= stretch.onset_ticks < end)


def _stretches(line: Transcription, spans: Sequence[HarmonySpan]) -> list[_Stretch]:
    """Written chords cut at bar lines, and what lies between them."""
    onsets = [span.onset_ticks for span in spans]
    found: list[_Stretch] = []
    for bar in line.bars:
        end = bar.onset_ticks + bar.length_ticks
        cuts = [bar.onset_ticks, *onsets[bisect_right(onsets, bar.onset_ticks) : bisect_left(onsets, end)], end]
        for start, stop in pairwise(cuts):
            index = bisect_right(onsets, start) - 1
            is_over = index >= 0 and start < spans[index].end_ticks
            if stop > start:
                found.append(_Stretch(start, stop, index if is_over else None))
    return found
