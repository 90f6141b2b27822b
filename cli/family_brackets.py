"""The families of the corpus as brackets over engraved notes, for ``show --families``."""

from typing import TYPE_CHECKING

from corpus.write.engrave import Mark
from corpus.write.legend import written_names

if TYPE_CHECKING:
    from corpus.model import Transcription
    from db.connection import Database


def family_brackets(
    database: "Database", identity: int, line: "Transcription", first_bar: int, last_bar: int, *, concert: bool
) -> tuple[list[Mark], list[tuple[Mark | None, str]]]:
    """Brackets for all places of families in the bars that are shown, and the legend: a family with its notes here.

    Letters are those of ``recur`` and ``map --families``; each family that is shown has its own colour and line.
    """
    from cli.families import PRIMES, prime_of, progress_bar
    from corpus.recur.letters import letter
    from corpus.recur.portrait import disguises_of
    from db.recur import FamilyHits, RecurQuestion, recur

    question = RecurQuestion()
    with progress_bar() as progress:
        discovered = recur(database, question, progress)
    marks: list[Mark] = []
    legend: list[tuple[Mark | None, str]] = []
    with database.reading() as connection:
        hits = FamilyHits(connection, question.settings)
        for number, family in enumerate(discovered.families):
            variants: dict[tuple[str, ...], str] = {}
            shown: list[Mark] = []
            for hit in hits.hits(family, [place for place in family.places if place.transcription == identity]):
                first, last = hit.occurrence.first, hit.occurrence.last
                label = letter(number) + prime_of(variants, disguises_of(hit.occurrence))
                if first_bar <= line.notes[first].bar_index and line.notes[last].bar_index <= last_bar:
                    shown.append(Mark(label, first, last, len(legend)))
            if shown:
                plain = min(shown, key=lambda mark: (len(mark.label), mark.first))
                legend.append((plain, written_names(line, plain.first, plain.last, concert=concert)))
                marks += shown
    if any(mark.label.endswith(PRIMES[1:]) for mark in marks):
        legend.append((None, "′ ″ ‴ mark variants with other notes."))
    return marks, legend
