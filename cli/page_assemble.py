"""A lesson page assembled: notation, data for playback and texts put into one HTML file that needs no network.

The page carries a Content-Security-Policy that allows its own script and style (by their SHA-256) and nothing else.
"""

import base64
import hashlib
import re
from dataclasses import replace
from importlib import resources
from itertools import accumulate
from typing import TYPE_CHECKING, Any, Final

from cli.page_parts import PageContents

if TYPE_CHECKING:
    from corpus.lesson.lesson import Lesson
    from corpus.model import Transcription
    from corpus.write.engrave import Mark
    from corpus.write.web import WebNotation

_WIDE_MM: Final = 190.0
_NARROW_MM: Final = 96.0
_BUSY: Final = 18
"""From so many notes in two bars on, a narrow line holds one bar."""


def page_html(line: "Transcription", told: PageContents, text: str = "", concert: bool = False) -> str:
    """The page; ``text`` is the teacher's own, in Markdown; ``concert`` writes transposing instruments at pitch.

    Texts are escaped wherever they come from.
    """
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    from corpus.write.web import STROKES, glyph_sheet

    marks = _marks(told.lesson)
    wide, narrow = _engraved(line, told.lesson, marks, concert)
    style = _small(_part("page.css")) + STROKES + (wide.font or narrow.font)
    script = _part("page.js")
    environment = Environment(
        loader=PackageLoader("cli", "page_template"), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True,
    )  # fmt: skip
    return environment.get_template("page.html").render(
        lesson=told.lesson,
        written=_written(line, concert),
        told=told,
        starts=_starts(told.lesson),
        own_text=Markup(_markdown(text)),
        wide=[Markup(svg) for svg in wide.pictures],
        narrow=[Markup(svg) for svg in narrow.pictures],
        glyphs=Markup(glyph_sheet(wide.glyphs | narrow.glyphs)),
        style=Markup(style),
        script=Markup(script),
        style_hash=_hash(style),
        script_hash=_hash(script),
        data=playback_data(told.lesson),
    )


def playback_data(lesson: "Lesson") -> dict[str, Any]:
    """What the page's script needs: times in seconds at the tempo named; marks in the order of the notation's."""
    schedule = lesson.schedule
    return {
        "tempo": round(schedule.tempo, 2),
        "length": round(schedule.length, 5),
        "notes": [[s.note, round(s.start, 5), round(s.length, 5), s.pitch, int(s.is_ghost)] for s in schedule.sounds],
        "clicks": [[round(click.start, 5), int(click.is_first)] for click in schedule.clicks],
        "bars": [[bar.name, round(bar.start, 5), round(bar.end, 5)] for bar in schedule.bars],
        "marks": [
            {
                "figure": figure.kind,
                "label": place.label,
                "where": place.where,
                "first": place.first,
                "last": place.last,
            }
            for figure in lesson.figures
            for place in figure.places
        ],
    }


def _starts(lesson: "Lesson") -> list[int]:
    """For each figure the number of its first mark: marks are counted over all figures."""
    return list(accumulate((len(figure.places) for figure in lesson.figures), initial=0))


def _marks(lesson: "Lesson") -> "list[Mark]":
    from corpus.write.engrave import Mark

    return [
        Mark(place.label, place.first, place.last, figure.kind) for figure in lesson.figures for place in figure.places
    ]


def _written(line: "Transcription", concert: bool) -> str:
    """How far the notation stands from what sounds, in words; empty where it does not."""
    from corpus.pitch import interval_name
    from corpus.write.instruments import writing_of

    writing = writing_of(line, concert=concert)
    away = -(writing.semitones + 12 * writing.octaves)
    if not away:
        return ""
    interval = interval_name(away) if abs(away) >= 12 else f"a {interval_name(away)}"
    where = "above" if away > 0 else "below"
    return (
        f"The notation stands {interval} {where} what sounds; chart, map and the names of notes are those that sound."
    )


def _engraved(
    line: "Transcription", lesson: "Lesson", marks: "list[Mark]", concert: bool
) -> "tuple[WebNotation, WebNotation]":
    """The line for wide and for narrow screens, from one score."""
    from corpus.write.engrave import EngravingOptions, score_of, svg_pages
    from corpus.write.musicxml import Page
    from corpus.write.web import web_notation

    bars = lesson.bars
    page = Page(bars.start, bars.stop - 1, lesson.texts_below(), concert)
    wide = EngravingOptions(page, marks, width_mm=_WIDE_MM, by_line=True)
    on_a_phone = replace(page, bars_per_line=_bars_on_a_phone(line, bars))
    narrow = replace(wide, page=on_a_phone, width_mm=_NARROW_MM)
    score = score_of(line, wide)
    shown = [web_notation(svg_pages(line, width, score), marks, page.prefix) for width in (wide, narrow)]
    return shown[0], shown[1]


def _bars_on_a_phone(line: "Transcription", bars: range) -> int:
    counts = [0] * len(line.bars)
    for note in line.notes:
        counts[note.bar_index] += 1
    return 2 if all(sum(counts[i : i + 2]) < _BUSY for i in bars) else 1


def _markdown(text: str) -> str:
    """Markdown as HTML: raw HTML is shown as text, links lead to http, https and mail only, pictures are left out."""
    if not text.strip():
        return ""
    from markdown_it import MarkdownIt

    parser = MarkdownIt("commonmark", {"html": False}).disable(["image", "html_block", "html_inline"])
    parser.validateLink = _is_safe_link  # type: ignore[method-assign]
    html: str = parser.render(text)
    # The page has headings of its own above these; a link tells nobody where it was followed from.
    html = re.sub(r"<(/?)h([1-6])>", lambda m: f"<{m[1]}h{min(int(m[2]) + 2, 6)}>", html)
    return html.replace("<a href=", '<a rel="noopener noreferrer" href=')


def _is_safe_link(url: str) -> bool:
    return re.match(r"(https?://|mailto:|#)", url.strip(), re.IGNORECASE) is not None


def _part(name: str) -> str:
    return resources.files("cli").joinpath("page_template", name).read_text(encoding="utf-8")


def _small(css: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"/\*.*?\*/", "", css, flags=re.DOTALL)).strip()


def _hash(text: str) -> str:
    return "sha256-" + base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")
