"""How ``find`` asks for figures in disguise, and how it shows them."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import islice
from textwrap import wrap
from typing import TYPE_CHECKING

from corpus.errors import QueryError

if TYPE_CHECKING:
    from corpus.match.forms import Form
    from corpus.match.prices import Prices
    from db.readers import Reader
    from db.search import Answer, Hit, Question

_WIDTH = 80
_LONGEST_ASKED = 120
_INDENT = "      "


@dataclass(frozen=True)
class HowNear:
    """What the options about near search, turned figures and sequences say."""

    is_near: bool = False
    threshold: float | None = None
    prices: "Prices | None" = None
    forms: "tuple[Form, ...]" = field(default=("",))
    is_sequence: bool = False

    @property
    def is_plain(self) -> bool:
        """Whether exact search of the figure as it stands answers."""
        return not self.is_near and not self.is_sequence and len(self.forms) == 1

    def answer(self, connection: "Reader", question: "Question", most: int | None) -> "Answer":
        """What is found, at most ``most`` places; what had been found when the user stops the search."""
        from corpus.match.prices import Prices
        from db.near import DEFAULT_THRESHOLD, NearQuestion, near_hits, near_sequences
        from db.search import Answer

        threshold = DEFAULT_THRESHOLD if self.threshold is None else self.threshold
        asked = NearQuestion(question, threshold if self.is_near else 1.0, self.prices or Prices(), self.forms)
        hits: list[Hit] = []
        try:
            if self.is_sequence:
                found = near_sequences(connection, asked)
                return Answer(found[:most], len(found))
            places = near_hits(connection, asked)
            hits.extend(islice(places, most))
            is_complete = most is None or len(hits) < most or next(places, None) is None
        except KeyboardInterrupt:
            return Answer(hits, len(hits), is_complete=False, is_stopped=True)
        return Answer(hits, len(hits), is_complete)


def near_options(near: bool, threshold: float | None, prices: str | None, also: str, sequence: bool) -> HowNear:
    """The options as one value. Raises QueryError where they contradict each other or name nothing known."""
    for option, value, says in (
        ("--threshold", threshold, "how like a figure must be"),
        ("--prices", prices, "what changes cost"),
    ):
        if value is not None and not near:
            raise QueryError(f"{option} says {says}: give --near with it")
    if not (near or also or sequence):
        return HowNear()
    from cli.configuration import prices_in_force
    from corpus.match.forms import parse_forms

    return HowNear(near, threshold, prices_in_force(prices or "figures"), parse_forms(also), sequence)


def total_words(answer: "Answer", asked: str, is_near: bool) -> str:
    """How many places there are, in words."""
    asked = asked if len(asked) <= _LONGEST_ASKED else f"{asked[: _LONGEST_ASKED - 1].rstrip()}…"
    shown = len(answer.hits)
    if answer.is_stopped:
        return f"{asked}: stopped; {shown:,} place{'' if shown == 1 else 's'} so far"
    if not answer.is_complete:
        return f"{asked}: the {shown:,} closest places; --limit shows more"
    if not answer.total:
        return f"{asked}: not found" + ("; a lower --threshold lets more through" if is_near else "")
    more = f", {shown:,} shown" if shown < answer.total else ""
    return f"{asked}: {answer.total:,} place{'' if answer.total == 1 else 's'}{more}"


def print_near_hits(hits: "Sequence[Hit]") -> None:
    """Hits, best first: where, what is played over which chords, and what was changed."""
    from cli.output import say

    for hit in hits:
        for line in hit_lines(hit):
            say(line)


def hit_lines(hit: "Hit") -> list[str]:
    """A hit in lines: likeness and place, notes and chords, changes."""
    from cli.output import bar_text, hit_fields, transposition_words

    fields = hit_fields(hit)
    player = f", {fields['player']}" if fields["player"] else ""
    section = f" {fields['section']}" if fields["section"] else ""
    bar = f"bar {bar_text(fields['bar'], fields['pass'])} beat {float(fields['beat']):.4g}"
    far = transposition_words(hit.occurrence.transposed)
    where = f"chorus {fields['chorus']}{section}, {bar}" + (f", {far}" if far else "")
    notes = " ".join(spelling or "x" for spelling in fields["notes"])
    chords = f"   ({' '.join(fields['chords'])})" if fields["chords"] else ""
    changes = "; ".join(fields["changes"]) or "no change"
    return [
        f"{hit.occurrence.likeness:.2f}  {hit.entry.id}  {fields['title']}{player}",
        *wrap(where, _WIDTH, initial_indent=_INDENT, subsequent_indent=_INDENT),
        *wrap(notes + chords, _WIDTH, initial_indent=_INDENT, subsequent_indent=_INDENT),
        *wrap(changes, _WIDTH, initial_indent=_INDENT, subsequent_indent=_INDENT),
    ]
