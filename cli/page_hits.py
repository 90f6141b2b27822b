"""Pages of places: the hits of a search, and a family of recurring figures with its occurrences."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

from cli.page_groups import Group, GroupPage
from cli.page_shell import Heading
from corpus.errors import QueryError

if TYPE_CHECKING:
    from cli.families import Teller, Told
    from corpus.lesson.passages import Passages
    from corpus.match.figure import Figure
    from db.connection import Database
    from db.families import KeptFamily
    from db.search import Answer, Hit

MOST_PLACES: Final = 60
"""So many places go on a page; more would be slow to look at and to send."""

_ALIGNED: Final = "Places stand under each other, aligned by a note that most of them share."


def page_of_hits(answer: "Answer", figure: "Figure | None", asked: str) -> GroupPage:
    """The page of a search. Raises QueryError when nothing was found."""
    from corpus.lesson.passages import Passages
    from corpus.lesson.signs import with_signs
    from corpus.write.hits import shared_notes

    if not answer.hits:
        raise QueryError(f"{asked}: not found, so there is nothing to make a page of")
    hits = answer.hits[:MOST_PLACES]
    seen = Passages()
    passages = tuple(
        seen.passage(hit.transcription, hit.occurrence, str(number)) for number, hit in enumerate(hits, start=1)
    )
    heights = None if figure is None else figure.pitches
    shared = tuple(shared_notes(heights, h.transcription, h.occurrence.first, h.occurrence.last) for h in hits)
    lines = len({hit.entry.id for hit in answer.hits})
    # A near search stops when it has what it shows: it does not know how many more there are.
    facts = (_some(answer.total, "place"), f"in {_some(lines, 'line')}") if answer.is_complete else ()
    return GroupPage(
        Heading("Where a figure comes back" if figure else "What is played there", with_signs(asked), "", facts),
        "The places",
        f"A bracket marks the figure in each place. {_ALIGNED}",
        (Group(passages, shared, notes=tuple(map(_likeness, hits)), more=_more(len(hits), answer.total)),),
    )


def _likeness(hit: "Hit") -> str:
    return "" if not hit.occurrence.changes else f"likeness {hit.occurrence.likeness:.2f}"


def _more(shown: int, total: int) -> str:
    return "" if shown >= total else f"{shown:,} of {total:,} places are shown."


def page_of_family(database: "Database", code: str) -> GroupPage:
    """The page of a family, by its code. Raises CorpusError for a code that no family bears."""
    from cli.families import Teller, progress_bar
    from corpus.lesson.passages import Passages
    from corpus.lesson.signs import with_signs
    from db.family_codes import family_of

    with progress_bar() as progress:
        family, discovered, question = family_of(database, code, progress)
    with database.reading() as connection:
        teller = Teller(connection, question.settings, discovered)
        told = teller.told(family, MOST_PLACES)
        group = family_group(teller, told, Passages(), 0, MOST_PLACES)
    facts = (f"family {family.code}", f"{discovered.line_count:,} lines, {discovered.note_count:,} notes looked at")
    intro = f"The typical form comes first; each other place tells how it differs from it. {_ALIGNED}"
    return GroupPage(
        Heading("A figure that keeps coming back", with_signs(_typical_notes(told)), "", facts), "The places", intro,
        (group,),
    )  # fmt: skip


def family_group(teller: "Teller", told: "Told", seen: "Passages", kind: int, most: int, letter: str = "A") -> Group:
    """A family with what is told of it: its typical form, then others of its places, at most so many in all."""
    from cli.families import disguise_words, prime_of, spread_words
    from corpus.lesson.signs import with_signs
    from corpus.recur.portrait import disguises_of
    from corpus.write.hits import shared_notes

    family = told.family
    others = [hit for hit in told.hits if not _is_typical(family, hit)]
    hits = [told.typical, *others][:most]
    variants: dict[tuple[str, ...], str] = {}
    passages = tuple(
        seen.passage(hit.transcription, hit.occurrence, letter + prime_of(variants, disguises_of(hit.occurrence)))
        for hit in hits
    )
    heights = teller.hits.figure(family).figure.pitches
    facts = [("In the corpus", spread_words(told)), *((("Here", "; ".join(told.words)),) if told.words else ())]
    facts += [("What it is", "; ".join(told.labels))] if told.labels else []
    facts += [("Where it stands", "; ".join(told.portrait.words()))] if told.portrait.words() else []
    facts += [("How it is varied", disguise_words(told.portrait))] if told.portrait.disguises else []
    return Group(
        passages,
        tuple(shared_notes(heights, h.transcription, h.occurrence.first, h.occurrence.last) for h in hits),
        kind,
        letter,
        with_signs(_typical_notes(told)),
        f"typical form, family {family.code}",
        tuple((term, with_signs(text)) for term, text in facts),
        ("typical form", *([""] * (len(hits) - 1))),
        _more(len(hits), len(family.places)),
    )


def _is_typical(family: "KeptFamily", hit: "Hit") -> bool:
    typical = family.typical
    return (hit.entry.id, hit.occurrence.first, hit.occurrence.last) == (
        typical.transcription, typical.first, typical.last,
    )  # fmt: skip


def _typical_notes(told: "Told") -> str:
    occurrence, notes = told.typical.occurrence, told.typical.transcription.notes
    return _names(notes[occurrence.first : occurrence.last + 1])


def _names(notes: Sequence[Any]) -> str:
    return " ".join(note.spelling or "x" for note in notes)


def _some(count: int, thing: str) -> str:
    return f"{count:,} {thing}{'' if count == 1 else 's'}"
