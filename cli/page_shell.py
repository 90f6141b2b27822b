"""What every lesson page has: one HTML file with its own style, script, glyphs and sounds, that needs no network.

The page carries a Content-Security-Policy that allows its own script and style (by their SHA-256) and nothing else.
"""

import base64
import hashlib
import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from importlib import resources
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from corpus.lesson.schedule import Schedule
    from corpus.write.web import WebNotation


@dataclass(frozen=True, slots=True)
class Heading:
    """The head of a page: what kind it is, its title, whose it is, and facts."""

    kind: str
    title: str
    player: str = ""
    facts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Words:
    """What the controls call all that can be heard (``Line``), and one and several of its parts (``bar``, ``bars``)."""

    whole: str
    one: str
    many: str


@dataclass(frozen=True, slots=True)
class PlayedMark:
    """A bracket as the page's script plays it: notes ``first`` to ``last`` of the page, called by label and place."""

    figure: int
    label: str
    where: str
    first: int
    last: int


def shell_html(
    template: str,
    heading: Heading,
    words: Words,
    data: Mapping[str, Any],
    notation: "Sequence[WebNotation]",
    text: str,
    contents: Mapping[str, Any],
) -> str:
    """A page from a template; ``text`` is the teacher's own, in Markdown. Texts are escaped wherever they come from."""
    from jinja2 import Environment, PackageLoader, StrictUndefined
    from markupsafe import Markup

    from corpus.write.web import STROKES, glyph_sheet

    glyphs = {identity: glyph for part in notation for identity, glyph in part.glyphs.items()}
    style = _small(_part("page.css")) + STROKES + next((part.font for part in notation if part.font), "")
    script = _part("page.js")
    environment = Environment(
        loader=PackageLoader("cli", "page_template"), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True,
    )  # fmt: skip
    return environment.get_template(template).render(
        heading=heading,
        words=words,
        own_text=Markup(_markdown(text)),
        glyphs=Markup(glyph_sheet(glyphs)),
        style=Markup(style),
        script=Markup(script),
        style_hash=_hash(style),
        script_hash=_hash(script),
        stations=data["bars"],
        data={**data, "words": asdict(words)},
        **contents,
    )


def playback_data(schedule: "Schedule", marks: Sequence[PlayedMark]) -> dict[str, Any]:
    """What the page's script needs: times in seconds at the tempo named; marks in the order of the notation's."""
    return {
        "tempo": round(schedule.tempo, 2),
        "length": round(schedule.length, 5),
        "notes": [[s.note, round(s.start, 5), round(s.length, 5), s.pitch, int(s.is_ghost)] for s in schedule.sounds],
        "clicks": [[round(click.start, 5), int(click.is_first)] for click in schedule.clicks],
        "bars": [[bar.name, round(bar.start, 5), round(bar.end, 5)] for bar in schedule.bars],
        "marks": [asdict(mark) for mark in marks],
    }


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
