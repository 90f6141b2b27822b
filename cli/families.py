"""Families on the screen: a list with what is told of each, JSON for scripts, chorus maps with letters."""

from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from textwrap import wrap
from typing import TYPE_CHECKING, Any, Final

from cli.output import console, hit_fields, passage_text, plain, print_json, say, tell
from corpus.recur.letters import letter
from corpus.recur.portrait import Portrait, SeenPlace, disguises_of, portrait_of
from corpus.recur.settings import DiscoverySettings
from db.catalogue import Selection
from db.families import FamilyPlace, KeptFamily
from db.recur import Discovered, FamilyHits, RecurQuestion, recur, spread

if TYPE_CHECKING:
    from collections.abc import Callable

    import sqlalchemy as sa

    from corpus.model import Transcription
    from corpus.recur.repeats import FindRepeats
    from corpus.shapes import Shape
    from db.connection import Database
    from db.search import Hit

_WIDTH: Final = 80
_INDENT: Final = "      "
_SEEN: Final = 60
"""So many places of a family are looked at to tell what they have in common, spread over all of them."""
_PLACES_UNASKED: Final = 3
_NOTES_SHOWN: Final = 16
_CHORDS_SHOWN: Final = 8
PRIMES: Final = ("", "′", "″", "‴")


@dataclass(frozen=True, slots=True)
class Asked:
    """What ``recur`` was asked."""

    selection: Selection
    settings: DiscoverySettings
    signature: str = ""
    common: bool = False
    strains: bool = False
    again: bool = False
    dask: str = ""


@dataclass(frozen=True)
class Told:
    """A family with all that is told of it; ``hits`` are the places that are shown."""

    family: KeptFamily
    typical: "Hit"
    hits: Sequence["Hit"]
    portrait: Portrait
    players: Counter[str]
    tunes: Counter[str]
    share: float
    labels: Sequence[str]
    extra: dict[str, Any]
    words: Sequence[str] = ()


def show_families(database: "Database", asked: Asked, as_json: bool, as_map: bool, places: int | None) -> None:
    """Find what was asked and show it as a list, as JSON, or as maps."""
    from db.signature import common, signature

    question = RecurQuestion(asked.selection, asked.settings)
    with progress_bar() as progress, repeats_finder(asked.dask) as find:
        if asked.signature:
            discovered, extras = signature(database, question, asked.signature, progress, asked.again, find)
        elif asked.common:
            discovered, extras = common(database, question, progress, asked.again, find)
        else:
            discovered, extras = recur(database, question, progress, asked.again, find), []
    most = places if places is not None else None if as_json else _PLACES_UNASKED
    with database.reading() as connection:
        teller = Teller(connection, asked.settings, discovered)
        if as_json:
            print_json([family_fields(told) for told in teller.tell(extras, most)])
        elif as_map:
            for line in family_maps(teller):
                say(line)
        else:
            for number, told in enumerate(teller.tell(extras, most)):
                for line in family_lines(letter(number), told):
                    say(line)
    tell(total_words(discovered, asked))


@contextmanager
def repeats_finder(dask: str) -> "Iterator[FindRepeats | None]":
    """Who finds the repeats: Dask's workers at an address, or nobody but this process."""
    if not dask:
        yield None
        return
    from corpus.recur.on_dask import repeats_on_dask

    with repeats_on_dask(dask) as find:
        yield find


@contextmanager
def progress_bar(words: str = "looking for families") -> "Iterator[Callable[[int, int], None] | None]":
    """A progress bar on standard error for work that takes longer than a moment; none where nobody sees it."""
    import sys

    if not sys.stderr.isatty():
        yield None
        return
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn(words), BarColumn(), TimeElapsedColumn())
    with Progress(*columns, console=console(is_error=True), transient=True) as bar:
        task = bar.add_task("", total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)


class Teller:
    """Gathers what is told of families; lines and their harmony are read once.

    ``few`` looks at no more than so many places a family, in lines that have been looked at already where it can: what
    a single page may take the time for.
    """

    def __init__(
        self, connection: "sa.Connection", settings: DiscoverySettings, discovered: Discovered, few: int | None = None
    ) -> None:
        self._few = few
        self._connection, self.discovered = connection, discovered
        self.hits = FamilyHits(connection, settings)
        self._seen: dict[int, tuple[Any, Any]] = {}
        self._shapes: dict[int, list[Shape]] = {}

    def tell(self, extras: Sequence[tuple[dict[str, Any], Sequence[str]]], most: int | None) -> Iterator[Told]:
        """Each family with at most so many places; ``extras`` are further fields and phrases of each."""
        for number, family in enumerate(self.discovered.families):
            extra, words = extras[number] if extras else ({}, ())
            yield self.told(family, most, extra, words)

    def told(
        self,
        family: KeptFamily,
        most: int | None,
        extra: dict[str, Any] | None = None,
        words: Sequence[str] = (),
    ) -> Told:
        """One family with at most so many places."""
        seen = list(self.hits.hits(family, self._places_to_see(family)))
        portrait = portrait_of(map(self._look, seen))
        shown = list(self.hits.hits(family, family.places if most is None else _from_many_lines(family, most)))
        players: Counter[str] = Counter()
        tunes: Counter[str] = Counter()
        for player, tune, count in spread(self._connection, family):
            players[player] += count
            tunes[tune] += count
        share = family.covered / max(self.discovered.note_count, 1)
        typical = self.hits.typical(family)
        labels = self._labels(seen)
        return Told(family, typical, shown, portrait, players, tunes, share, labels, extra or {}, words)

    def _places_to_see(self, family: KeptFamily) -> list[FamilyPlace]:
        counting = [place for place in family.places if not place.is_replay]
        if self._few is None:
            return counting[:: max(len(counting) // _SEEN, 1)][:_SEEN]
        return sorted(counting, key=lambda place: place.transcription not in self._seen)[: self._few]

    def _labels(self, hits: Sequence["Hit"]) -> list[str]:
        """The names of shapes that at least half of the places hold, or are part of."""
        from corpus.shapes import shapes_in, shapes_of, shared_labels

        def shapes(hit: "Hit") -> "list[Shape]":
            if hit.entry.id not in self._shapes:
                self._shapes[hit.entry.id] = shapes_of(hit.transcription, self._look(hit).analysis.spans)
            return shapes_in(self._shapes[hit.entry.id], hit.occurrence.first, hit.occurrence.last)

        return shared_labels(map(shapes, hits), len(hits))

    def _look(self, hit: "Hit") -> SeenPlace:
        from corpus.harmony.analysis import analyse
        from corpus.harmony.roles import roles_of

        if hit.entry.id not in self._seen:
            analysis = analyse(hit.transcription)
            self._seen[hit.entry.id] = (analysis, roles_of(hit.transcription, analysis.spans))
        return SeenPlace(hit.transcription, *self._seen[hit.entry.id], hit.occurrence)


def _from_many_lines(family: KeptFamily, most: int) -> list[FamilyPlace]:
    """Some places of a family, of as many lines as may be, the line of the typical form first."""
    seen: Counter[int] = Counter()
    ranked = []
    for place in family.places:
        is_elsewhere = place.transcription != family.typical.transcription
        ranked.append((place.is_replay, seen[place.transcription], is_elsewhere, place.transcription, place.first))
        seen[place.transcription] += 1
    order = sorted(range(len(ranked)), key=ranked.__getitem__)
    return [family.places[index] for index in order[:most]]


def family_fields(told: Told) -> dict[str, Any]:
    """A family as ``recur --json`` tells it; ``surprise`` in bits, ``coverage`` as a share of the notes looked at."""
    family, portrait = told.family, told.portrait
    typical = told.typical
    return {
        "id": family.code,
        "figure": {
            "intervals": list(family.intervals),
            "notes": [note.spelling for note in _notes(typical)],
            "chords": hit_fields(typical)["chords"],
            "functions": _seen_functions(told),
        },
        "notes": len(family.intervals) + 1,
        "count": family.count,
        "replays": len(family.places) - family.count,
        "occurrences": [hit_fields(hit) for hit in told.hits],
        "players": [{"player": name or None, "count": count} for name, count in told.players.most_common()],
        "tunes": [{"title": name, "count": count} for name, count in told.tunes.most_common()],
        "coverage": round(told.share, 6),
        "surprise": round(family.surprise, 3),
        "expected": float(f"{family.expected:.3g}"),
        "reading": family.reading,
        "contexts": portrait.words(),
        "sections": dict(portrait.sections.most_common()),
        "disguises": dict(portrait.disguises.most_common()),
        "labels": list(told.labels),
        **told.extra,
    }


def _notes(hit: "Hit") -> Sequence[Any]:
    return hit.transcription.notes[hit.occurrence.first : hit.occurrence.last + 1]


def _seen_functions(told: Told) -> str:
    return told.portrait.functions.most_common(1)[0][0] if told.portrait.functions else ""


def family_lines(name: str, told: Told) -> list[str]:
    """A family for people: its letter and notes, then what is told of it, then some of its places."""
    family = told.family
    notes = _first_notes([note.spelling for note in _notes(told.typical)])
    chords = " ".join(hit_fields(told.typical)["chords"][:_CHORDS_SHOWN])
    lines = wrap(
        f"{name:<3} {family.code}  {notes}" + (f"   ({chords})" if chords else ""), _WIDTH, subsequent_indent=_INDENT
    )
    shapes = "; ".join(told.labels)
    phrases = [
        *told.words,
        shapes,
        "; ".join(told.portrait.words()),
        disguise_words(told.portrait),
    ]
    for phrase in [spread_words(told), *filter(None, phrases)]:
        lines += wrap(phrase, _WIDTH, initial_indent=_INDENT, subsequent_indent=_INDENT + "  ")
    for hit in told.hits:
        lines += wrap(_place_words(hit), _WIDTH, initial_indent=f"{_INDENT}- ", subsequent_indent=_INDENT + "  ")
    if len(told.hits) < len(family.places):
        lines.append(f"{_INDENT}- and {_some(len(family.places) - len(told.hits), 'place')} more")
    return [*lines, ""]


def _first_notes(notes: Sequence[str]) -> str:
    """The notes of a place, of a long one the first and how many there are."""
    if len(notes) <= _NOTES_SHOWN + 4:
        return " ".join(notes)
    return f"{' '.join(notes[:_NOTES_SHOWN])} … ({len(notes)} notes)"


def spread_words(told: Told) -> str:
    """In how many places of how many tunes a family stands, how many chance would give, and its share of notes."""
    family = told.family
    replays = len(family.places) - family.count
    again = f" (and {replays:,} more where a long passage is played again)" if replays else ""
    return (
        f"{_some(family.count, 'place')}{again} in {_some(len(told.tunes), 'tune')}"
        + (f" by {_some(len([p for p in told.players if p]), 'player')}" if any(told.players) else "")
        + f"; chance would give {_few(family.expected)}; {100 * told.share:.2g} % of the notes"
    )


def _some(count: int, thing: str) -> str:
    return f"{count:,} {thing}{'' if count == 1 else 's'}"


def _few(expected: float) -> str:
    return "less than 0.01" if expected < 0.01 else f"{expected:.2g}" if expected < 100 else f"{round(expected):,}"


def disguise_words(portrait: Portrait) -> str:
    """The disguises that were seen, with their counts."""
    return ", ".join(f"{kind} {count}" for kind, count in portrait.disguises.most_common())


def _place_words(hit: "Hit") -> str:
    """A place in one line: ID, passage (as ``--like`` takes both), section, tune and player, notes."""
    fields = hit_fields(hit)
    player = f", {fields['player']}" if fields["player"] else ""
    section = f" {fields['section']}" if fields["section"] else ""
    where = f"{fields['transcription']} {passage_text(hit)}{section}  {fields['title']}{player}"
    return f"{where}: {_first_notes(fields['notes'])}"


def total_words(discovered: Discovered, asked: Asked) -> str:
    """How many families in how many lines, and whether they were kept."""
    kind = "strain" if asked.strains else "family"
    count = len(discovered.families)
    plural = {"strain": "strains", "family": "families"}[kind] if count != 1 else kind
    where = f"{_some(discovered.line_count, 'line')}, {discovered.note_count:,} notes"
    if not count:
        return f"nothing recurs in {where} beyond what chance gives"
    how = {
        "kept": "; as kept",
        "again": "; found again, since lines have changed",
        "anew": "; found again, as asked",
        "not kept": f"; not kept: {discovered.reason}",
    }
    more = "; --limit shows more" if count == asked.settings.limit else ""
    return f"{count:,} {plural} in {where}{how.get(discovered.made, '')}{more}"


def family_maps(teller: Teller, only: int | None = None, choruses: Sequence[int] | None = None) -> Iterator[str]:
    """The chorus maps of all lines that hold families, or ``only`` of the one with an ID: letters with primes for
    variants, and how much is covered. Of several choruses perhaps only some.
    """
    from cli.chorus_map import Marked, chorus_map

    by_line: dict[int, list[Marked]] = {}
    covered: dict[int, set[int]] = {}
    lines: dict[int, tuple[str, Transcription]] = {}
    for number, family in enumerate(teller.discovered.families):
        variants: dict[tuple[str, ...], str] = {}
        for hit in teller.hits.hits(family, [place for place in family.places if only in (None, place.transcription)]):
            identity, line, occurrence = hit.entry.id, hit.transcription, hit.occurrence
            label = letter(number) + prime_of(variants, disguises_of(hit.occurrence))
            onsets = (line.notes[occurrence.first].onset_ticks, line.notes[occurrence.last].onset_ticks)
            by_line.setdefault(identity, []).append(Marked(label, "", [onsets]))
            covered.setdefault(identity, set()).update(range(occurrence.first, occurrence.last + 1))
            details = hit.entry.details
            lines[identity] = (f"{identity}  {details.title}, {details.player}".rstrip(", "), line)
    for identity in sorted(lines):
        title, line = lines[identity]
        yield title
        yield from chorus_map(line, by_line[identity], only=choruses, shares=bar_shares(line, covered[identity]))
        yield ""
    told = {mark.label.rstrip("".join(PRIMES)) for marks in by_line.values() for mark in marks}
    yield from _legend(teller, told)


_PLAIN = frozenset({"as it is", "octave displaced", "doubled", "stretched", "shifted", "other rhythm"})


def prime_of(variants: dict[tuple[str, ...], str], disguises: Sequence[str]) -> str:
    """The prime of a variant: none for the same notes under the folds, then one more for each further kind."""
    changed = tuple(disguise for disguise in disguises if disguise not in _PLAIN)
    if not changed:
        return ""
    return variants.setdefault(changed, PRIMES[min(len(variants) + 1, len(PRIMES) - 1)])


def bar_shares(line: "Transcription", covered: set[int]) -> list[str]:
    """For each bar how much of its notes belong to families, in words for the map: ``75 %``, empty for none."""
    notes, inside = Counter(note.bar_index for note in line.notes), Counter(line.notes[i].bar_index for i in covered)
    return [f"{100 * inside[index] / notes[index]:.0f} %" if inside[index] else "" for index in range(len(line.bars))]


def _legend(teller: Teller, letters: set[str]) -> Iterator[str]:
    for number, family in enumerate(teller.discovered.families):
        if letter(number) not in letters:
            continue
        notes = _first_notes([note.spelling for note in _notes(teller.hits.typical(family))])
        yield f"{letter(number):<2} = {plain(notes)}"
    yield "′ ″ ‴ mark variants: other notes than the typical form has, whatever the rhythm."
    yield "Under each bar: the share of its notes that belongs to a family."


def line_with_families(database: "Database", identity: int, chorus: int | None) -> Iterator[str]:
    """The map of one line with the families of the whole corpus on it. Raises CorpusError for an unknown ID."""
    from db.catalogue import load

    question = RecurQuestion()
    with database.reading() as connection:
        load(connection, identity)
    with progress_bar() as progress:
        discovered = recur(database, question, progress)
    with database.reading() as connection:
        teller = Teller(connection, question.settings, discovered)
        yield from family_maps(teller, identity, None if chorus is None else [chorus])
