"""Tunes that are versions of each other, as the collections that music21 ships say themselves.

Two facts are used, and no music:

- **number**: O'Neill's book numbers its tunes, and stretches of it were transcribed twice (732 to 758 by two people,
  1116 to 1135, 1556 to 1624 and others). Tunes in two files of ``oneills1850`` under one number of the book are the
  same page, transcribed twice. A number outside the range that the file's name gives is a slip and left out.
- **title**: tunes in whichever collections whose first titles are the same once case, accents, punctuation, text in
  brackets, what stands after `` -- `` (Ryan's kinds of dance), page numbers, leading and trailing articles and marks
  such as "1", "a" or "2nd setting" are gone.

Titles that say little are left out: fewer than two words; nothing but words such as *jig*, *march* or *minuet*; titles
that more than ``MOST_BEARERS`` tunes carry (ballad types, mostly); and titles under which two kinds of dance are named
("Our Boys -- Jig", "Our Boys -- Reel"). Tunes connected by either fact make one group.

**The same title does not always mean the same tune.** Under one first line a folk-song collection prints several
melodies, and dance titles were reused. Groups of one title are told apart by whether all of them stand in the
folk-song collection, since those are much less often one tune. All stay in: nothing is chosen by likeness, so that no
method is favoured, and what cannot be reached lowers the score of every method alike. The one musical fact that is used
takes the trivial away: versions whose intervals are the same from first to last note, which any exact search finds,
are no versions of each other here (they are counted, and left out of the ranking). Second titles, and the numbers that
the Essen collection gives to songs of one text type, are not used.
"""

import random
import re
import unicodedata
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from corpus.read.abc_text import split_tunes
from db.connection import Database
from db.paths import music21_collections
from tests.bench.timing import report

Rule = Literal["number", "dance title", "song title"]

RULES: Final[tuple[Rule, ...]] = ("number", "dance title", "song title")
MOST_BEARERS: Final = 4
"""A title that more tunes carry names a type, not a tune."""
SHORTEST_TUNE: Final = 24
"""Notes as played that every tune of a group has, so that each can be asked for with 24 of them."""

_SPLIT_SEED: Final = 20
_NUMBERED: Final = "oneills1850"
_SONGS: Final = "essenFolksong"
_ARTICLES: Final = "the|a|an|der|die|das"
_GENERIC: Final = frozenset(
    re.split(
        r"\s+",
        "a air an and by country dance dances de double du gavot gavotte hornpipe in irish jig la le march menuet "
        "minuet new of old polka quadrille quick quickstep reel scotch schottische single slip slow song step "
        "strathspey the title tune untitled waltz welsh",
    )
)


@dataclass(frozen=True, slots=True)
class Group:
    """Versions of one tune: IDs in order, the fact that connects them, and the melody of each.

    ``melody`` gives the same number to members whose intervals agree from first to last note.
    """

    rule: Rule
    ids: tuple[int, ...]
    melody: tuple[int, ...]

    @property
    def is_trivial(self) -> bool:
        """Whether all members are one melody, transposed at most."""
        return len(set(self.melody)) == 1

    def versions_of(self, identity: int) -> tuple[frozenset[int], frozenset[int]]:
        """The other melodies of the group, and the members (the tune itself among them) that are its own melody."""
        own = self.melody[self.ids.index(identity)]
        same = frozenset(i for i, melody in zip(self.ids, self.melody, strict=True) if melody == own)
        return frozenset(self.ids) - same, same


@dataclass(frozen=True, slots=True)
class _Tune:
    id: int
    title: str
    collection: str
    source: str
    intervals: str


def plain_title(title: str) -> str:
    """A title without what two editors write differently; empty for a title that says too little."""
    decomposed = unicodedata.normalize("NFKD", title)
    text = "".join(symbol for symbol in decomposed if not unicodedata.combining(symbol)).casefold()
    text = re.sub(r"\(.*?\)|\[.*?\]", " ", text.split(" -- ")[0])
    text = re.sub(r",\s*s\.\s*\d+.*$", "", text)
    text = re.sub(r"[^a-z0-9]+", " ", re.sub(r"['’`]", "", text)).strip()
    text = re.sub(r" (?:\w+ )?(?:setting|version|set)$", "", text)
    text = re.sub(r" (?:[a-z]|\d{1,2}|ii|iii|no \d+)$", "", text)
    text = re.sub(rf"^(?:{_ARTICLES}) | (?:{_ARTICLES})$", "", text)
    text = text.replace("humour", "humor").replace("favourite", "favorite").replace("honour", "honor")
    words = text.split()
    is_telling = len(words) >= 2 and not _GENERIC.issuperset(words)
    return text if is_telling else ""


def _kind(title: str) -> str:
    """The kind of dance that a title of Ryan's names after `` -- ``, or an empty string."""
    _, _, kind = title.partition(" -- ")
    return re.sub(r"[^a-z]", "", kind.casefold())


def _by_title(tunes: Iterable[_Tune]) -> Iterator[list[int]]:
    bearers: dict[str, list[_Tune]] = defaultdict(list)
    for tune in tunes:
        bearers[plain_title(tune.title)].append(tune)
    bearers.pop("", None)
    for found in bearers.values():
        kinds = {_kind(tune.title) for tune in found} - {""}
        if 2 <= len(found) <= MOST_BEARERS and len(kinds) <= 1:
            yield [tune.id for tune in found]


def _by_number(tunes: Sequence[_Tune]) -> Iterator[list[int]]:
    """IDs of O'Neill's tunes under each number of the book."""
    by_source: dict[str, list[int]] = defaultdict(list)
    for tune in tunes:
        if tune.collection == _NUMBERED:
            by_source[tune.source.rsplit("/", 1)[-1]].append(tune.id)
    numbered: dict[int, list[int]] = defaultdict(list)
    for name, ids in sorted(by_source.items()):
        numbers = [tune.number for tune in split_tunes((music21_collections()[_NUMBERED] / name).read_bytes(), name)]
        low, high = map(int, name[:9].split("-"))
        for number, identity in zip(numbers, ids, strict=True):
            if number and low <= int(number) <= high:
                numbered[int(number)].append(identity)
    yield from (ids for _, ids in sorted(numbered.items()) if len(ids) > 1)


def _tunes(database: Database) -> list[_Tune]:
    sql = (
        "SELECT t.id, t.title, t.collection, s.name, r.interval FROM transcription t "
        "JOIN source s ON s.id = t.source_id JOIN reading r ON r.transcription_id = t.id ORDER BY s.name, t.position"
    )
    with database.reading() as connection:
        return [_Tune(*row) for row in connection.exec_driver_sql(sql)]


def _connected(links: Iterable[Sequence[int]]) -> list[list[int]]:
    """IDs that are linked to each other, directly or by way of others."""
    home: dict[int, list[int]] = {}
    for linked in links:
        merged: list[int] = []
        for identity in linked:
            for member in home.get(identity, [identity]):
                if member not in merged:
                    merged.append(member)
        home.update(dict.fromkeys(merged, merged))
    return list({id(group): sorted(group) for group in home.values()}.values())


def _melodies(ids: Sequence[int], intervals: Mapping[int, str]) -> tuple[int, ...]:
    first: dict[str, int] = {}
    return tuple(first.setdefault(intervals[identity], len(first)) for identity in ids)


def groups_in(database: Database) -> list[Group]:
    """All groups in a database of the five collections, by their lowest ID."""
    tunes = _tunes(database)
    intervals = {tune.id: tune.intervals for tune in tunes}
    songs = {tune.id for tune in tunes if tune.collection == _SONGS}
    long_enough = {tune.id for tune in tunes if len(tune.intervals) >= SHORTEST_TUNE}
    by_number = list(_by_number(tunes))
    one_number = {frozenset(ids) for ids in by_number}
    groups: list[Group] = []
    for linked in _connected([*by_number, *_by_title(tunes)]):
        ids = [identity for identity in linked if identity in long_enough]
        if len(ids) > 1:
            rule: Rule = "song title" if songs.issuperset(ids) else "dance title"
            if any(number.issuperset(ids) for number in one_number):
                rule = "number"
            groups.append(Group(rule, tuple(ids), _melodies(ids, intervals)))
    return sorted(groups, key=lambda group: group.ids)


def held_out(groups: Sequence[Group]) -> list[Group]:
    """The half of the groups left alone while prices were tuned on the other; trivial groups are in neither."""
    source = random.Random(_SPLIT_SEED)
    held: list[Group] = []
    for rule in RULES:
        found = [group for group in groups if group.rule == rule and not group.is_trivial]
        source.shuffle(found)
        held += found[1::2]
    return held


def report_groups(groups: Sequence[Group]) -> None:
    """How many groups and tunes each fact gives, and how many are one melody throughout."""
    for rule in RULES:
        chosen = [group for group in groups if group.rule == rule]
        trivial = sum(group.is_trivial for group in chosen)
        tunes = sum(len(group.ids) for group in chosen)
        report(f"groups of one {rule}", f"{len(chosen)} ({tunes} tunes), {trivial} of them one melody throughout")
