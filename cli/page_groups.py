"""A page of passages in groups: the places of a search, of a family, or of a player's own figures."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from cli.page_shell import Heading, PlayedMark, Words, playback_data, shell_html

if TYPE_CHECKING:
    from cli.page_parts import ProfileRow
    from corpus.lesson.passages import InARow, Passage
    from corpus.write.rows import Place, Row
    from corpus.write.web import WebNotation

_LEAST_WIDTH_MM: Final = 190.0
"""Music is drawn no larger than in the lesson on a line."""


@dataclass(frozen=True)
class Group:
    """Passages that stand under each other, aligned by the notes that ``shared`` pairs with those of their figure.

    ``kind`` counts groups: it chooses colour and line of the brackets. ``facts`` are terms with what is told of them,
    ``note`` explains the heading, ``notes`` the passages (one each, often empty), ``more`` says what is left out.
    """

    passages: "tuple[Passage, ...]"
    shared: tuple[tuple[tuple[int, int], ...], ...]
    kind: int = 0
    letter: str = ""
    heading: str = ""
    note: str = ""
    facts: tuple[tuple[str, str], ...] = ()
    notes: tuple[str, ...] = ()
    more: str = ""


@dataclass(frozen=True, slots=True)
class LineRow:
    """A row of the table of lines."""

    title: str
    recording: str
    year: str
    instrument: str
    key: str
    bars: int
    notes: int


@dataclass(frozen=True)
class GroupPage:
    """All that a page of passages tells."""

    heading: Heading
    places_heading: str
    intro: str
    groups: tuple[Group, ...]
    lines: tuple[LineRow, ...] = ()
    profile: "tuple[ProfileRow, ...]" = ()
    profile_remarks: tuple[str, ...] = ()
    counted_over: str = ""


def groups_html(page: GroupPage, text: str = "") -> str:
    """The page; ``text`` is the teacher's own, in Markdown. Texts are escaped wherever they come from."""
    from corpus.lesson.passages import in_a_row

    placed = [_places(group) for group in page.groups]
    places = [place for group in placed for place in group]
    row = in_a_row([(place.line, place.bars) for place in places])
    pictures = list(_pictures(placed, row))
    marks = [
        PlayedMark(
            group.kind,
            passage.label,
            f"{passage.title}, {passage.where}",
            passage.occurrence.first + shift,
            passage.occurrence.last + shift,
        )
        for (group, passage), shift in zip(_passages(page), row.shifts, strict=True)
    ]
    contents = {
        "page": {
            "places_heading": page.places_heading,
            "intro": page.intro,
            "lines": page.lines,
            "profile": page.profile,
            "profile_remarks": page.profile_remarks,
            "counted_over": page.counted_over,
            "has_rings": any('class="ring"' in svg for picture in pictures for svg in picture.pictures),
            "groups": _shown(page, pictures),
        }
    }
    words = Words("All places", "place", "places")
    return shell_html("groups.html", page.heading, words, playback_data(row.schedule, marks), pictures, text, contents)


def _passages(page: GroupPage) -> "Iterator[tuple[Group, Passage]]":
    for group in page.groups:
        for passage in group.passages:
            yield group, passage


def _places(group: Group) -> "list[Place]":
    from corpus.write.rows import Place

    return [
        Place(
            passage.line,
            passage.occurrence.first,
            passage.occurrence.last,
            shared=shared,
            label=passage.label,
            kind=group.kind,
            below=passage.below,
        )
        for passage, shared in zip(group.passages, group.shared, strict=True)
    ]


def _pictures(groups: "Sequence[Sequence[Place]]", played: "InARow") -> "Iterator[WebNotation]":
    """The notation of every passage, all in frames of one width, so that all music has one size."""
    from corpus.write.rows import most_shared, rows_of
    from corpus.write.score import HAS_FONT

    engraved: list[tuple[float, list[Row]]] = []
    has_font = False
    for places in groups:
        anchor_note = most_shared(places)
        rows: list[list[Row]] = []
        for number, place in enumerate(places):
            rows.append(rows_of(place, len(engraved) + number, anchor_note, font=not has_font))
            # One picture of the page holds the font for all.
            has_font = has_font or any(HAS_FONT in row.svg for row in rows[-1])
        anchor = max((row.anchor for one in rows for row in one if row.anchor is not None), default=0.0)
        engraved += [(anchor, one) for one in rows]
    width = max((_left(anchor, row) + row.width for anchor, lines in engraved for row in lines), default=0.0)
    for number, (anchor, lines) in enumerate(engraved):
        yield _framed(lines, anchor, max(width, _LEAST_WIDTH_MM), played.shifts[number], number)


def _left(anchor: float, row: "Row") -> float:
    return 0.0 if row.anchor is None else anchor - row.anchor


def _framed(rows: "Sequence[Row]", anchor: float, width: float, shift: int, mark: int) -> "WebNotation":
    from corpus.write.rows import MM_PER_INNER
    from corpus.write.web import Numbering, WebNotation, in_frame, web_notation

    pictures: list[str] = []
    glyphs: dict[str, str] = {}
    font = ""
    for row in rows:
        marks = [row.mark] if row.mark else []
        found = web_notation([row.svg], marks, row.prefix, Numbering(shift, mark))
        pictures.append(in_frame(found.pictures[0], _left(anchor, row) / MM_PER_INNER, width / MM_PER_INNER))
        glyphs |= found.glyphs
        font = font or found.font
    return WebNotation(tuple(pictures), glyphs, font)


def _shown(page: GroupPage, pictures: "Sequence[WebNotation]") -> list[dict[str, Any]]:
    """The groups as the template wants them, each passage with its pictures and the number of its mark."""
    from markupsafe import Markup

    numbered = enumerate(pictures)
    return [
        {
            "kind": group.kind,
            "letter": group.letter,
            "heading": group.heading,
            "note": group.note,
            "facts": group.facts,
            "more": group.more,
            "passages": [
                {
                    "mark": number,
                    "label": passage.label,
                    "title": passage.title,
                    "player": passage.player,
                    "where": passage.where,
                    "transposed": passage.transposed,
                    "changes": passage.changes,
                    "words": passage.words,
                    "note": note,
                    "pictures": [Markup(svg) for svg in picture.pictures],
                }
                for passage, note in zip(group.passages, group.notes or [""] * len(group.passages), strict=True)
                for number, picture in (next(numbered),)
            ],
        }
        for group in page.groups
    ]
