"""Families: which repeats belong together, the most telling first.

Repeats of several readings compete. The one that saves most (see ``chance``) is taken, near search gathers what is
played in its place in disguise, and the notes that are thereby explained are taken away from all other repeats: so
parts that only travel with a longer figure, and prolongations that hold by chance, do not come again. Then the next.

- Two occurrences, of one family or of two, may share one note: the last of one is often the first of the other.
- A *replay*, a stretch of at least ``REPLAY_NOTES`` notes that was there before note for note (a strain played again,
  a tune added twice), is no evidence; its places are told but do not count.
- A disguise belongs to the family when it still saves something: information, less naming its place, less
  ``gathering.NATS_A_PRICE`` for each note's worth of change (what it takes to say which change, and where).
- A repeat ends where one of its places ends. A form is prolonged note by note, as most of its places go on, as long
  as that saves more: those that do not are cut, or end otherwise.
- A piece of a scale, up, down, or once up and down, is left out unless wished for: any line holds some.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import exp, log
from typing import TYPE_CHECKING, Final

from corpus.match.columns import Columns
from corpus.match.figure import Figure
from corpus.match.prices import PARTS
from corpus.recur.candidates import CandidateQueue, Hopeful
from corpus.recur.chance import Chance, surprise
from corpus.recur.contexts import Contexts
from corpus.recur.corpus_text import BREAK, CorpusText, TextReading, corpus_text
from corpus.recur.gathering import NATS_A_PRICE, Gatherer
from corpus.recur.repeats import FindRepeats, Repeats, maximal_repeats
from corpus.recur.replays import is_run, replayed
from corpus.recur.settings import REPLAY_NOTES, DiscoverySettings, Found, Member

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from corpus.match.kernels import Kernels

    Places = NDArray[np.int64]
    Flags = NDArray[np.bool_]

_LEAST_SAVED: Final = log(20)
"""Chance saves so many nats at most once in twenty times: it saves s nats with a probability of exp(-s) at most
(Grünwald, *The Minimum Description Length Principle*, 2007, 3.3, from memory: the no-hypercompression inequality)."""
_SPARE: Final = 1.5
"""Families are made for so many times the number wanted, since disguises change their order."""
_SLACK: Final = 12.0
"""A repeat that saves nothing by itself is tried when it lacks no more nats than this: disguises may make it up."""
_CONTEXT_WORTH: Final = 1.0
"""Nats an occurrence that a context is hoped to be worth, to leave out what is hopeless."""
_BESIDE_A_RUN: Final = 2
_TRIES: Final = 30
"""After so many vain tries in a row nothing more is expected."""


@dataclass(frozen=True, slots=True)
class _Layer:
    """A reading with its repeats and what chance makes of it."""

    text: CorpusText
    repeats: Repeats
    chance: Chance
    information: "NDArray[np.float64]"

    def held(self, first: int, length: int, count: int) -> float:
        """Nats of the form of so many notes that stands on a place (reckoned from the notes that lead into others), so
        many times in all.
        """
        import numpy as np

        begin, size, times = (np.array([value]) for value in (first + 1, length - 1, count))
        return float(self.chance.information(begin, size, times)[0])


@dataclass(frozen=True, slots=True)
class _Form:
    """A form in a reading: the first notes of the places where it stands unchanged, how many notes it has, how many
    nats it holds, and the first note of the place where it is most typical.
    """

    layer: _Layer
    firsts: "Places"
    length: int
    information: float
    typical: int


Progress = Callable[[int, int], None]


class Discovery:
    """The columns of a selection being searched for families."""

    def __init__(
        self,
        columns: Columns,
        settings: DiscoverySettings,
        allowed: "Flags | None" = None,
        progress: Progress | None = None,
        workers: int = 1,
        contexts: "Sequence[NDArray[np.uint8]]" = (),
        kernels: "Kernels | None" = None,
        find_repeats: FindRepeats = maximal_repeats,
    ) -> None:
        """``columns`` are those of all lines, with doubles collapsed if the folds say so; ``allowed`` are the places
        that may be looked at, all unless told. ``progress`` hears how many families of how many are made.
        ``find_repeats`` may have the repeats counted elsewhere (``corpus.recur.parts``).
        """
        import numpy as np

        self._find_repeats = find_repeats
        self._columns, self._settings = columns, settings
        self._progress = progress or (lambda done, total: None)
        notes = np.ones(len(columns.classes), dtype=bool)
        notes[columns.bars] = False
        self._used = ~(notes if allowed is None else notes & allowed)
        self._notes = max(int((~self._used).sum()), 1)
        self._contexts = Contexts(contexts, ~self._used)
        self._layers = [self._layer(reading) for reading in settings.readings_in_force]
        self._replayed, self._runs = np.zeros((2, len(notes)), dtype=bool)
        if settings.most_notes <= REPLAY_NOTES and self._layers:
            self._replayed = replayed(self._layers[0].text)
        # How many are used, or were there before, ahead of each place: what a stretch holds is told by its ends.
        self._used_ahead, self._replayed_ahead = _ahead(self._used), _ahead(self._replayed)
        chance = self._layers[0].chance
        self._gatherer = Gatherer(columns, settings, chance, self._used, self._replayed, self._notes, workers, kernels)

    def _layer(self, reading: TextReading) -> _Layer:
        import numpy as np

        whole = corpus_text(self._columns, reading)
        text = replace(whole, symbols=np.where(self._used, np.uint8(BREAK), whole.symbols))
        settings = self._settings
        less = 0 if text.first_counts else 1
        repeats = self._find_repeats(
            text.symbols,
            text.unbroken,
            settings.least_notes - less,
            settings.most_notes - less,
            settings.least_count,
        )
        chance = Chance.of(text)
        if not len(repeats):
            return _Layer(text, repeats, chance, np.empty(0))
        return _Layer(
            text, repeats, chance, chance.information(repeats.suffixes[repeats.begins], repeats.lengths, repeats.counts)
        )

    def families(self) -> list[Found]:
        """Families, the most telling first, at most as many as the settings say."""
        wanted = int(self._settings.limit * _SPARE) + 1
        found: list[Found] = []
        failed = 0
        for layer, number, places in self._seeds():
            self._progress(len(found), wanted)
            length, information = self._note_count(layer, number), float(layer.information[number])
            family = self._family(self._form(layer, places, length, information))
            failed = failed + 1 if family is None else 0
            if family is not None:
                self._take(family.members)
                found.append(family)
            if len(found) >= wanted or failed >= _TRIES:
                break
        self._progress(wanted, wanted)
        found.sort(key=lambda family: (-family.surprise, family.typical))
        return found[: self._settings.limit]

    def _seeds(self) -> "Iterator[tuple[_Layer, int, Places]]":
        """Repeats with the places that are left of them: those that save by their notes alone, most first, then those
        that save only since they keep to a context.
        """
        queue = CandidateQueue([self._candidates(layer) for layer in self._layers])
        while (first := queue.pop()) is not None:
            _, _, index, number = first
            layer = self._layers[index]
            places, count = self._left(layer, number)
            if count < self._settings.least_count:
                continue
            alone = surprise(float(layer.information[number]), count, self._notes)
            gain = alone if alone > 0 else alone + self._contexts.attachment(places)
            now = (int(alone <= 0), -gain, index, number)
            if gain <= -_SLACK:
                continue
            if queue.has_better(now):
                queue.push(now)
                continue
            yield layer, number, places

    def _candidates(self, layer: _Layer) -> Hopeful:
        """The repeats of a layer that may save something."""
        import numpy as np

        repeats = layer.repeats
        gains = (repeats.counts - 1) * layer.information
        gains -= repeats.counts * (np.log(np.maximum(self._notes / repeats.counts, 1)) + 1)
        alone = gains > 0
        hopeful = np.flatnonzero(
            ~alone & (gains > -_SLACK - (_CONTEXT_WORTH * repeats.counts if self._contexts else 0))
        )
        before = 0 if layer.text.first_counts else 1
        gains[hopeful] += self._contexts.attachments(repeats, hopeful, before)
        wanted = np.flatnonzero(alone | (gains > -_SLACK))
        return wanted, ~alone[wanted], -gains[wanted]

    def _left(self, layer: _Layer, number: int) -> "tuple[Places, int]":
        """The first notes of the occurrences of a repeat that are still unexplained, and how many count."""
        import numpy as np

        length = self._note_count(layer, number)
        firsts = layer.repeats.places(number) - (0 if layer.text.first_counts else 1)
        firsts = firsts[self._used_ahead[firsts + length] - self._used_ahead[firsts] <= 1]
        if len(firsts) > 1:
            firsts = _apart(firsts, length)
        again = self._replayed_ahead[firsts + length] - self._replayed_ahead[firsts]
        return firsts, int(np.count_nonzero(again <= length // 2))

    @staticmethod
    def _note_count(layer: _Layer, number: int) -> int:
        return int(layer.repeats.lengths[number]) + (0 if layer.text.first_counts else 1)

    def _family(self, form: _Form) -> Found | None:
        """The family that grows from a repeat, None when its form is a mere run or when it saves nothing."""
        if self._is_run(form):
            return None
        found = self._gathered(form)
        while found is not None:
            # A repeat ends where one of its places ends. Where most go on in one way, the others are cut.
            longer = [(other, tried) for tried in self._longer(form, found) if (other := self._gathered(tried))]
            best, tried = max(longer, key=lambda each: each[0].surprise, default=(found, form))
            if best.surprise <= found.surprise:
                break
            found, form = best, tried
        return None if found is None or found.surprise <= _LEAST_SAVED else found

    def _gathered(self, form: _Form) -> Found | None:
        """A form with all its places, whatever they save; None where they are too few."""
        import numpy as np

        reading = form.layer.text.reading
        figure = None if form.layer.text.first_counts else self._figure(form.typical, form.length)
        exact = [self._exact(first, form.typical, form.length) for first in form.firsts.tolist()]
        # What is so long is not varied but played again; and near search would take its time.
        is_long = form.length > REPLAY_NOTES
        members = exact if figure is None or is_long else self._gatherer.members(figure, form.information, exact)
        evidence = [member for member in members if not member.is_replay]
        if len(evidence) < self._settings.least_count:
            return None
        # What the reading does not see is told of every occurrence anyway: it costs nothing to say it again.
        same = {(member.first, member.last) for member in exact}
        changes = sum(member.parts for member in evidence if (member.first, member.last) not in same) / PARTS
        saved = surprise(form.information, len(evidence), self._notes) - NATS_A_PRICE * changes
        saved += self._contexts.attachment(np.array([member.first for member in evidence]))
        expected = self._notes * exp(-form.information)
        stretch = (form.typical, form.typical + form.length - 1)
        return Found(stretch, tuple(sorted(members)), form.information, saved, expected, reading, figure)

    def _longer(self, form: _Form, found: Found) -> "Iterator[_Form]":
        """The form with one note more at either side, as most of its places have it, where that may save more."""
        import numpy as np

        text, length = form.layer.text, form.length + 1
        if text.first_counts or length > min(self._settings.most_notes, REPLAY_NOTES):
            return
        cut = NATS_A_PRICE * self._settings.prices.cut
        evidence = np.array([(member.first, member.last + 1) for member in found.members if not member.is_replay])
        for is_before in (True, False):
            there = self._beside(text, evidence[:, 0 if is_before else 1], is_before)
            counts = np.bincount(there[there != BREAK], minlength=1)
            symbol = int(counts.argmax())
            here = self._beside(text, form.firsts + (0 if is_before else form.length), is_before)
            firsts = form.firsts[here == symbol] - is_before
            if symbol == BREAK or len(firsts) < 2:
                continue
            firsts = _apart(firsts, length)
            longer = self._form(form.layer, firsts, length, form.layer.held(int(firsts[0]), length, len(firsts)))
            gain = (found.count - 1) * (longer.information - form.information)
            if gain > cut * (found.count - int(counts[symbol])) and not self._is_run(longer):
                yield longer

    def _beside(self, text: CorpusText, places: "Places", is_before: bool) -> "NDArray[np.uint8]":
        """How a form would go on at its places, by symbol: ``BREAK`` where a line ends or a note is explained already.

        ``places`` are its first notes, for what is before it, or those that follow it.
        """
        import numpy as np

        inside = places < len(text)
        at = np.where(inside, places, 0)
        return np.where(inside & ~self._used[at - is_before], text.symbols[at], np.uint8(BREAK))

    def _exact(self, first: int, typical: int, length: int) -> Member:
        """A place where a reading has the form unchanged, transposed as its first note is."""
        last = first + length - 1
        heights, positions = self._columns.heights, self._columns.positions
        width = int(heights[typical + length - 1] - heights[typical])
        away = int(heights[last] - heights[first]) - width
        letter = int(positions[last] - positions[first]) % 7
        return Member(first, last, 0, self._gatherer.is_replay(first, length), away, letter)

    def _is_run(self, form: _Form) -> bool:
        """Whether a form is a piece of a scale, or one that recurs with a chance note or two beside it."""
        import numpy as np

        if self._settings.with_runs:
            return False
        stretches = form.firsts[:, None] + np.arange(form.length)
        if is_run(self._columns.heights[form.typical : form.typical + form.length]):
            self._runs[stretches] = True
            return True
        beside = (~self._runs[stretches]).sum(axis=1)
        return bool(2 * int((beside <= _BESIDE_A_RUN).sum()) > len(form.firsts))

    def _form(self, layer: _Layer, firsts: "Places", length: int, information: float) -> _Form:
        return _Form(layer, firsts, length, information, self._typical(firsts, length))

    def _typical(self, firsts: "Places", length: int) -> int:
        """Where the form stands that is played most often note for note, the earliest of equals."""
        import numpy as np

        heights = self._columns.heights
        forms = heights[firsts[:, None] + np.arange(length)] - heights[firsts][:, None]
        _, where, counts = np.unique(forms, axis=0, return_index=True, return_counts=True)
        best = where[counts == counts.max()].min()
        return int(firsts[best])

    def _figure(self, first: int, length: int) -> Figure:
        heights = self._columns.heights[first : first + length]
        positions = self._columns.positions[first : first + length]
        pitches = tuple((heights - heights[0]).tolist())
        text = " ".join(f"{after - before:+d}" for before, after in pairwise(pitches))
        return Figure(text, pitches, tuple((positions - positions[0]).tolist()), (True,) * length)

    def _take(self, members: tuple[Member, ...]) -> None:
        for member in members:
            self._used[member.first : member.last + 1] = True
        self._used_ahead = _ahead(self._used)


def _apart(firsts: "Places", length: int) -> "Places":
    """Of stretches of one length, by rising place, those that share at most one note with the one before."""
    if int((firsts[1:] - firsts[:-1]).min()) >= length - 1:
        return firsts
    import numpy as np

    kept: list[int] = []
    for first in firsts.tolist():
        if not kept or first - kept[-1] >= length - 1:
            kept.append(first)
    return np.array(kept, dtype=np.int64)


def _ahead(flags: "Flags") -> "Places":
    """How many flags are set before each place, and of all at last."""
    import numpy as np

    found = np.zeros(len(flags) + 1, dtype=np.int64)
    np.cumsum(flags, out=found[1:])
    return found
