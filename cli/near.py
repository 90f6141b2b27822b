"""How ``find`` asks for figures in disguise, and how it shows them."""

from collections.abc import Sequence
from textwrap import wrap
from typing import TYPE_CHECKING

from corpus.errors import QueryError
from db.asking import HowNear

if TYPE_CHECKING:
    from db.search import Answer, Hit

_WIDTH = 80
_LONGEST_ASKED = 120
_INDENT = "      "


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
