"""Kept figures in words: tables and pages for people, fields for scripts."""

from collections.abc import Iterator, Sequence
from datetime import date
from textwrap import wrap
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from corpus.shelf.compare import Compared
    from corpus.shelf.kept import KeptFigure
    from corpus.shelf.likeness import Alike
    from db.search import Answer, Hit
    from db.shelf import LiveSource
    from db.shelf_families import Tie

RIGHTS = "mind the rights in the music transcribed before you share this file"
_WIDTH = 80


def count_of(number: int, noun: str) -> str:
    """``1 place``, ``3 places``."""
    plural = "practice entries" if noun == "practice entry" else "entries" if noun == "entry" else f"{noun}s"
    return f"{number:,} {noun if number == 1 else plural}"


def stars(rating: int | None) -> str:
    """A rating as a number out of five; empty for none."""
    return "" if rating is None else f"{rating}/5"


def figure_row(figure: "KeptFigure", places: int) -> tuple[str, ...]:
    """A figure as a row of the list."""
    notes = " ".join(figure.spellings)
    shown = notes if len(notes) <= 44 else f"{notes[:43].rstrip()}…"
    return figure.name, shown, stars(figure.rating), ", ".join(figure.tags), f"{places:,}"


def figure_json(figure: "KeptFigure", places: int, sources: "Sequence[LiveSource]") -> dict[str, Any]:
    """A figure as ``--json`` tells it: what the shelf file says, with what is known here."""
    from corpus.shelf.file import figure_fields

    fields = figure_fields(figure, with_practice=True)
    fields["places"] = places
    fields["sources"] = [source_json(live) for live in sources]
    return fields


def occurrence_json(hit: "Hit") -> dict[str, Any]:
    """A place where a figure stands, as ``shelf show --json`` tells it."""
    from cli.output import hit_fields, passage_text

    names = ("transcription", "title", "player", "first", "last", "transposed", "notes")
    fields = hit_fields(hit)
    return {**{name: fields[name] for name in names}, "passage": passage_text(hit)}


def source_json(live: "LiveSource") -> dict[str, Any]:
    """A source with its link, as it stands now."""
    source = live.source
    return {
        "title": source.title,
        "player": source.player or None,
        "passage": live.passage or source.passage,
        "notes": list(source.notes),
        "state": live.state,
        "transcription": source.transcription if live.state != "gone" else None,
        "first": source.first if live.state == "live" else None,
        "last": source.last if live.state == "live" else None,
    }


def tie_json(tie: "Tie | None") -> dict[str, Any] | None:
    """The family of recurring figures that a kept figure belongs to, as ``shelf show --json`` tells it."""
    if tie is None:
        return None
    family = tie.family
    places = {"count": family.count, "shared": tie.shared, "lines": len({p.transcription for p in family.places})}
    return {"id": family.code, "intervals": list(family.intervals), **places}


def tie_words(figure: "KeptFigure", tie: "Tie | None") -> str:
    """The same in words; empty where there is nothing to tell."""
    from db.family_codes import is_code

    if tie is None:
        if not is_code(figure.family):
            return ""
        return f"family {figure.family} is not among the families kept now: 'wellworn recur' finds them"
    lines = len({place.transcription for place in tie.family.places})
    told = f"recurs in family {tie.family.code}: {count_of(tie.family.count, 'place')} in {count_of(lines, 'line')}"
    shared = f", {count_of(tie.shared, 'place')} in common" if tie.shared else ", none of them this figure's own"
    return f"{told}{shared} ('wellworn page --family {tie.family.code}' shows them)"


def figure_page(
    figure: "KeptFigure", answer: "Answer", sources: "Sequence[LiveSource]", tie: "Tie | None" = None
) -> list[str]:
    """All about a figure, in lines; ``answer`` holds the first places where it stands, ``tie`` its family."""
    from cli.output import passage_text
    from corpus.shelf.compare import chord_words

    lines = [figure.name, *indented(" ".join(figure.spellings))]
    if figure.has_rhythm:
        lines += indented(f"lengths in quarters: {' '.join(_lengths(figure))}")
    for what, text in (
        ("chords", chord_words(figure)),
        ("key", figure.key),
        ("begins", _where(figure)),
        ("tags", ", ".join(figure.tags)),
        ("rating", stars(figure.rating)),
        ("family", figure.family),
    ):
        if text:
            lines += indented(f"{what}: {text}")
    for paragraph in figure.comment.split("\n") if figure.comment else ():
        lines += indented(paragraph) or [""]
    lines += [line for live in sources for line in indented(f"from {source_words(live)}")]
    lines += indented(f"stands in {count_of(answer.total, 'place')} now (any key, octaves and doubled notes ignored)")
    listed = ", ".join(f"{hit.entry.id} {passage_text(hit)}" for hit in answer.hits)
    if listed:
        lines += indented(f"{listed}{', …' if len(answer.hits) < answer.total else ''}")
    if tied := tie_words(figure, tie):
        lines += indented(tied)
    return lines


def indented(text: str) -> list[str]:
    """A text wrapped to the page, two spaces in."""
    return wrap(text, _WIDTH, initial_indent="  ", subsequent_indent="    ", break_on_hyphens=False)


def _lengths(figure: "KeptFigure") -> Iterator[str]:
    """Time from each note to the next in quarters, for the last how long it lasts."""
    from fractions import Fraction

    from corpus.model import TICKS_PER_QUARTER

    onsets = [note.onset_ticks or 0 for note in figure.notes]
    ends = [*onsets[1:], onsets[-1] + (figure.notes[-1].duration_ticks or 0)]
    for onset, end in zip(onsets, ends, strict=True):
        yield str(Fraction(end - onset, TICKS_PER_QUARTER))


def _where(figure: "KeptFigure") -> str:
    if figure.meter is None or figure.beat is None:
        return ""
    return f"on beat {float(figure.beat):.4g} of {figure.meter}"


def source_words(live: "LiveSource") -> str:
    """Where a figure came from, and whether it is still there."""
    source = live.source
    who = f", {source.player}" if source.player else ""
    title = source.title or "a line without title"
    if live.state == "live":
        return f"{source.transcription} {live.passage}: {title}{who}"
    why = "its line has changed" if live.state == "changed" else "no longer among the lines"
    return f"{title}{who}, {source.passage} ({why})"


def alike_words(figure: "KeptFigure", found: "Sequence[Alike]") -> list[str]:
    """Near-duplicates, each with what was changed, and how to unite them."""
    from cli.output import transposition_words

    lines = []
    for one in found:
        far = transposition_words(one.transposed)
        if one.changes:
            words = f"{figure.name!r} is like {one.figure.name!r} ({one.likeness:.2f}, {far}); in {one.figure.name!r}: "
            words += "; ".join(one.changes)
        else:
            words = f"{figure.name!r} has the notes of {one.figure.name!r} ({far})"
        lines += wrap(words, _WIDTH, break_on_hyphens=False)
        lines.append(f"  to make one of them: wellworn shelf merge {_quoted(one.figure.name)} {_quoted(figure.name)}")
    return lines


def _quoted(name: str) -> str:
    import shlex

    return f'"{name}"' if not set(name) & set('"\\$`!') else shlex.quote(name)


def alike_json(found: "Sequence[Alike]") -> list[dict[str, Any]]:
    """Near-duplicates for scripts."""
    return [
        {"name": one.figure.name, "likeness": one.likeness, "transposed": one.transposed, "changes": list(one.changes)}
        for one in found
    ]


def compared_lines(compared: "Sequence[Compared]") -> list[str]:
    """What an import would do, in words: what is new, what is there, what conflicts."""
    lines = []
    for state, words in (("new", "new"), ("there", "there already"), ("conflict", "in conflict")):
        of_state = [one for one in compared if one.state == state]
        if not of_state:
            continue
        lines.append(f"{words}: {len(of_state):,}")
        for one in of_state:
            lines += indented(one.theirs.name + _more(one))
            for difference in one.differences:
                lines += wrap(difference, _WIDTH, initial_indent="    ", subsequent_indent="      ")
    return lines


def _more(one: "Compared") -> str:
    parts = [
        count_of(number, noun)
        for number, noun in ((one.new_sources, "source"), (one.new_practice, "practice entry"))
        if number
    ]
    return f" (adds {' and '.join(parts)})" if parts else ""


def compared_json(one: "Compared", done: str) -> dict[str, Any]:
    """A figure of a file beside the shelf, for scripts; ``done`` says what became of it."""
    return {
        "name": one.theirs.name,
        "state": one.state,
        "differences": list(one.differences),
        "new_sources": one.new_sources,
        "new_practice": one.new_practice,
        "done": done,
    }


def today() -> date:
    """The day of the user's calendar."""
    return date.today()
