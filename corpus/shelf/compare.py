"""Two shelves beside each other, and two figures made one. Nothing here decides for the user.

A figure of a file is *new*, *there* already, or in *conflict*: a figure of its name is there that differs from it.
Sources and practice entries never conflict: those that are not there yet are added.
"""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal, TypeVar

from corpus.shelf.kept import LONGEST_NAME, KeptFigure, KeptSource, Practice, clean_tags, folded_name

State = Literal["new", "there", "conflict"]
Choice = Literal["replace", "keep-both", "keep-mine"]
_T = TypeVar("_T")


@dataclass(frozen=True, slots=True)
class Compared:
    """A figure of a file beside the one of its name: ``differences`` in words, how many sources and entries are new."""

    theirs: KeptFigure
    state: State
    mine: KeptFigure | None = None
    differences: tuple[str, ...] = ()
    new_sources: int = 0
    new_practice: int = 0

    @property
    def adds(self) -> bool:
        """Whether something would be added to a figure that is there already."""
        return bool(self.new_sources or self.new_practice)


def compare(mine: Iterable[KeptFigure], theirs: Iterable[KeptFigure]) -> list[Compared]:
    """Each of their figures beside mine, in their order."""
    by_name = {figure.id_name: figure for figure in mine}
    return [_compared(by_name.get(figure.id_name), figure) for figure in theirs]


def _compared(mine: KeptFigure | None, theirs: KeptFigure) -> Compared:
    if mine is None:
        return Compared(theirs, "new")
    differences = differences_between(mine, theirs)
    if differences:
        return Compared(theirs, "conflict", mine, differences)
    sources = len(united_sources(mine.sources, theirs.sources)) - len(mine.sources)
    practice = len(united_practice(mine.practice, theirs.practice)) - len(mine.practice)
    return Compared(theirs, "there", mine, (), sources, practice)


def differences_between(mine: KeptFigure, theirs: KeptFigure) -> tuple[str, ...]:
    """How two figures of one name differ, in words; empty when in nothing that could be overwritten."""
    found = []
    for what, here, there in (
        ("notes", " ".join(mine.spellings), " ".join(theirs.spellings)),
        ("chords", chord_words(mine), chord_words(theirs)),
        ("key", mine.key, theirs.key),
        ("meter", str(mine.meter or ""), str(theirs.meter or "")),
        ("beat", str(mine.beat or ""), str(theirs.beat or "")),
        ("tags", ", ".join(mine.tags), ", ".join(theirs.tags)),
        ("rating", str(mine.rating or ""), str(theirs.rating or "")),
        ("family", mine.family, theirs.family),
        ("comment", mine.comment, theirs.comment),
    ):
        if here != there:
            found.append(f"{what}: {_short(here)} here, {_short(there)} in the file")
    if mine.spellings == theirs.spellings and mine.notes != theirs.notes:
        found.append("the rhythm differs")
    if mine.chords != theirs.chords and chord_words(mine) == chord_words(theirs):
        found.append("the places of the chords differ")
    return tuple(found)


def chord_words(figure: KeptFigure) -> str:
    """The chords of a figure in a line: symbols with their functions, the key where it begins to count."""
    words, key = [], ""
    for chord in figure.chords:
        function = chord.numeral
        if chord.key and chord.key != key and chord.numeral:
            function, key = f"{chord.numeral} in {chord.key}", chord.key
        if chord.symbol and function:
            words.append(f"{chord.symbol} ({function})")
        elif chord.symbol or function:
            words.append(chord.symbol or function)
    return " ".join(words)


def _short(text: str) -> str:
    text = " ".join(text.split())
    return "none" if not text else text if len(text) <= 60 else f"{text[:59]}…"


def _missing(have: Iterable[_T], more: Iterable[_T]) -> list[_T]:
    """What of ``more`` is not among ``have``; what stands there twice must be there twice."""
    counts, missing = Counter(have), []
    for item in more:
        if counts[item]:
            counts[item] -= 1
        else:
            missing.append(item)
    return missing


def united_sources(first: Sequence[KeptSource], second: Sequence[KeptSource]) -> tuple[KeptSource, ...]:
    """The sources of both; the same words stand for one source, and the one with a live link stays."""
    by_words: dict[tuple[str, str, str, tuple[str, ...]], KeptSource] = {}
    for source in (*first, *second):
        known = by_words.get(source.words)
        if known is None or known.transcription is None:
            by_words[source.words] = source
    return tuple(by_words.values())


def united_practice(first: Sequence[Practice], second: Sequence[Practice]) -> tuple[Practice, ...]:
    """The entries of both, by day; what stands in both is told once."""
    return tuple(sorted((*first, *_missing(first, second)), key=lambda entry: entry.day))


def added_to(mine: KeptFigure, theirs: KeptFigure) -> KeptFigure:
    """A figure with the sources and practice entries of another."""
    return replace(
        mine,
        sources=united_sources(mine.sources, theirs.sources),
        practice=united_practice(mine.practice, theirs.practice),
    )


def replaced_by(mine: KeptFigure, theirs: KeptFigure) -> KeptFigure:
    """Theirs in the place of mine; the history of practice and the sources are mine too, and stay."""
    both = added_to(mine, theirs)
    return replace(theirs, sources=both.sources, practice=both.practice, kept_on=mine.kept_on)


def merged(kept: KeptFigure, other: KeptFigure) -> KeptFigure:
    """Two figures as one: name, notes and chords of the first; tags, comments, sources and practice of both.

    Of two ratings the higher stays. Raises QueryError where both together are more than a figure may have.
    """
    comments = [text for text in dict.fromkeys((kept.comment, other.comment)) if text]
    days = [day for day in (kept.kept_on, other.kept_on) if day is not None]
    ratings = [rating for rating in (kept.rating, other.rating) if rating is not None]
    return replace(
        added_to(kept, other),
        tags=clean_tags((*kept.tags, *other.tags)),
        comment="\n\n".join(comments),
        rating=max(ratings, default=None),
        family=kept.family or other.family,
        chords=kept.chords or other.chords,
        key=kept.key or other.key,
        kept_on=min(days, default=None),
    )


def free_name(name: str, taken: Collection[str]) -> str:
    """The name with the first number that makes it free: ``Turn (2)``. ``taken`` are folded names."""
    number = 2
    while folded_name(candidate := f"{name[: LONGEST_NAME - 8].rstrip()} ({number})") in taken:
        number += 1
    return candidate


@dataclass(frozen=True, slots=True)
class Outcome:
    """What an import makes of a shelf: the new shelf, what became of each of their figures, and what is new on it.

    ``done`` tells for each figure of the file: added, added to (sources or practice), replaced, kept beside, left.
    """

    shelf: tuple[KeptFigure, ...]
    done: tuple[str, ...]
    new: tuple[KeptFigure, ...]


def taken_over(mine: Sequence[KeptFigure], compared: Sequence[Compared], choices: Mapping[str, Choice]) -> Outcome:
    """My shelf with theirs, conflicts settled as ``choices`` say by folded name; there must be one for each."""
    shelf = {figure.id_name: figure for figure in mine}
    taken = set(shelf) | {one.theirs.id_name for one in compared}
    done, new = [], []
    for one in compared:
        theirs = one.theirs
        if one.state == "new":
            what, figure = "added", theirs
        elif one.state == "there":
            assert one.mine is not None
            what, figure = ("added to" if one.adds else "left"), added_to(one.mine, theirs)
        else:
            assert one.mine is not None
            what, figure = _settled(one.mine, theirs, choices[theirs.id_name], taken)
        done.append(what)
        shelf[figure.id_name] = figure
        taken.add(figure.id_name)
        if what in ("added", "kept beside"):
            new.append(figure)
    return Outcome(tuple(shelf.values()), tuple(done), tuple(new))


def _settled(mine: KeptFigure, theirs: KeptFigure, choice: Choice, taken: Collection[str]) -> tuple[str, KeptFigure]:
    if choice == "replace":
        return "replaced", replaced_by(mine, theirs)
    if choice == "keep-both":
        return "kept beside", replace(theirs, name=free_name(theirs.name, taken))
    return "left", mine
