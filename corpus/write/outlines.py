"""Texts of an SVG as outlines, so that ♭, ♯ and the symbols of music look right wherever the picture is shown.

Converters to PDF and PNG don't see the fonts that verovio embeds. Symbols are drawn from the outlines of the music
font that verovio ships (Leipzig, SIL Open Font License), all other text from the system's serif font, through cairo.
"""

import base64
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any, Final
from xml.etree.ElementTree import Element, SubElement, fromstring, register_namespace, tostring

from corpus.errors import SystemTroubleError

_SVG: Final = "http://www.w3.org/2000/svg"
_SMUFL: Final = {"♭": "\ue260", "♮": "\ue261", "♯": "\ue262"}
"""SMuFL code points of the accidentals (W3C, *Standard Music Font Layout* 1.4, range U+E260)."""

_SIGN_SCALE: Final = 1.9
"""Music fonts set four staff spaces to the em: beside text of the same size an accidental needs about twice it."""

_EM: Final = 1_000
_BOLD: Final = frozenset({"ending", "fing", "reh", "tempo", "markLabel"})
_ITALIC: Final = frozenset({"dir", "dynam", "mNum"})


@dataclass(frozen=True, slots=True)
class _Face:
    size: float = 0.0
    is_bold: bool = False
    is_italic: bool = False
    is_music: bool = False
    anchor: str = "start"
    fill: str = ""


@dataclass(frozen=True, slots=True)
class _Run:
    text: str
    face: _Face
    x: float | None
    y: float | None


def with_outlines(svg: str) -> str:
    """The SVG with every text as paths. Raises SystemTroubleError when the system has no font for texts."""
    register_namespace("", _SVG)
    register_namespace("xlink", "http://www.w3.org/1999/xlink")
    root = fromstring(svg)
    for style in list(root.iter(f"{{{_SVG}}}style")):
        # Only rules for strokes are left to be told: the fonts are drawn.
        style.text = re.sub(r"@font-face\s*\{.*?\}", "", style.text or "", flags=re.DOTALL)
    _outline_children(root, frozenset())
    return tostring(root, encoding="unicode")


def _outline_children(element: Element, classes: frozenset[str]) -> None:
    classes = classes | frozenset((element.get("class") or "").split())
    for index, child in enumerate(list(element)):
        if child.tag == f"{{{_SVG}}}text":
            element[index] = _outlined(child, classes)
        else:
            _outline_children(child, classes)


def _outlined(text: Element, classes: frozenset[str]) -> Element:
    group = Element(f"{{{_SVG}}}g", {"class": "text", "stroke": "none"})
    own = classes | frozenset((text.get("class") or "").split())
    face = _Face(is_bold=bool(own & _BOLD), is_italic=bool(own & _ITALIC))
    for line in _lines(list(_runs(text, face))):
        parts = [(part, *_outline(part.text, part.face)) for part in line]
        x, y = line[0].x or 0.0, line[0].y or 0.0
        width = sum(advance for _, _, advance in parts)
        x -= {"middle": width / 2, "end": width}.get(line[0].face.anchor, 0.0)
        for part, outline, advance in parts:
            if outline:
                fill = {"fill": part.face.fill} if part.face.fill else {}
                SubElement(group, f"{{{_SVG}}}path", {"d": outline, "transform": f"translate({x:.1f} {y:.1f})", **fill})
            x += advance
    return group


def _runs(element: Element, face: _Face) -> Iterator[_Run]:
    """The texts inside a ``<text>`` with the face each is set in; a place where one is given."""
    face = _face(element, face)
    x, y = (float(v) if v is not None else None for v in (element.get("x"), element.get("y")))
    text = element.text or ""
    if text.strip() or (text and not len(element)):
        yield _Run(text, face, x, y)
        x = y = None
    for child in element:
        for run in _runs(child, face):
            yield replace(run, x=run.x if run.x is not None else x, y=run.y if run.y is not None else y)
            x = y = None


def _face(element: Element, face: _Face) -> _Face:
    style = dict(re.findall(r"([\w-]+)\s*:\s*([^;]+)", element.get("style") or ""))

    def told(name: str) -> str:
        return style.get(name, "") or element.get(name) or ""

    size = re.match(r"([\d.]+)", told("font-size"))
    if size is not None and float(size[1]) > 0:
        face = replace(face, size=float(size[1]))
    if told("font-weight"):
        face = replace(face, is_bold=told("font-weight") == "bold")
    if told("font-style"):
        face = replace(face, is_italic=told("font-style") == "italic")
    if told("font-family"):
        face = replace(face, is_music=told("font-family") in ("Leipzig", "Bravura"))
    if told("text-anchor"):
        face = replace(face, anchor=told("text-anchor"))
    return replace(face, fill=told("fill") or face.fill)


def _lines(runs: list[_Run]) -> Iterator[list[_Run]]:
    """Runs that follow each other, a new line where one has a place of its own."""
    line: list[_Run] = []
    for run in runs:
        if line and (run.x is not None or run.y is not None):
            yield line
            line = []
        line.append(run)
    if line:
        yield line


def _outline(text: str, face: _Face) -> tuple[str, float]:
    """A path and its advance; accidentals in plain text are taken from the music font."""
    paths: list[str] = []
    x = 0.0
    for part in text:
        sign = _SMUFL.get(part, part)
        if "\ue000" <= sign <= "\uf8ff":
            scale = face.size / _EM * (1.0 if face.is_music else _SIGN_SCALE)
            raise_by = 0.0 if face.is_music else 0.22 * face.size
            path, advance = _music_glyph(sign)
            gap = 0.0 if face.is_music else 0.04 * face.size
        else:
            scale, raise_by, gap = face.size / _EM, 0.0, 0.0
            path, advance = _text_outline(part, face.is_bold, face.is_italic)
        paths.append(_moved(path, scale, x + gap, -raise_by))
        x += advance * scale + 2 * gap
    return " ".join(path for path in paths if path), x


def _moved(path: tuple[tuple[str, tuple[float, ...]], ...], scale: float, x: float, y: float) -> str:
    words: list[str] = []
    for command, numbers in path:
        words.append(command)
        words += [f"{n * scale + (y if i % 2 else x):.1f}" for i, n in enumerate(numbers)]
    return " ".join(words)


_Path = tuple[tuple[str, tuple[float, ...]], ...]


@lru_cache(maxsize=1)
def _music_font() -> Any:
    import verovio
    from fontTools.ttLib import TTFont

    path = Path(verovio.__file__).parent / "data" / "Leipzig.css"
    try:
        data = re.search(r"base64,([A-Za-z0-9+/=]+)", path.read_text(encoding="utf-8"))
    except OSError as error:
        raise SystemTroubleError(
            f"the music font {path.name} is missing from verovio: install verovio again"
        ) from error
    if data is None:
        raise SystemTroubleError(f"the music font {path.name} of verovio cannot be read: install verovio 6")
    return TTFont(io.BytesIO(base64.b64decode(data[1])))


@lru_cache(maxsize=512)
def _music_glyph(sign: str) -> tuple[_Path, float]:
    """Outline of a music sign on an em of 1000, y downwards, and its advance."""
    from fontTools.pens.basePen import decomposeQuadraticSegment
    from fontTools.pens.recordingPen import DecomposingRecordingPen

    font = _music_font()
    name = font.getBestCmap().get(ord(sign))
    if name is None:
        return (), 0.0
    glyphs = font.getGlyphSet()
    pen = DecomposingRecordingPen(glyphs)
    glyphs[name].draw(pen)
    scale = _EM / font["head"].unitsPerEm
    letters = {"moveTo": "M", "lineTo": "L", "curveTo": "C", "qCurveTo": "Q", "closePath": "Z", "endPath": "Z"}
    path: list[tuple[str, tuple[float, ...]]] = []
    for command, points in pen.value:
        # TrueType's splines leave out points that lie half-way between two others; SVG's curves don't.
        segments = decomposeQuadraticSegment(points) if command == "qCurveTo" else [points]
        for segment in segments:
            path.append((letters[command], tuple(v for x, y in segment for v in (x * scale, -y * scale))))
    return tuple(path), glyphs[name].width * scale


@lru_cache(maxsize=2048)
def _text_outline(character: str, is_bold: bool, is_italic: bool) -> tuple[_Path, float]:
    """Outline of a character in the system's serif font on an em of 1000, and its advance.

    Character by character: cairo leaves out the end of longer texts.
    """
    import cairocffi

    surface = cairocffi.ImageSurface(cairocffi.FORMAT_A8, 1, 1)
    context = cairocffi.Context(surface)
    context.select_font_face(
        "serif",
        cairocffi.FONT_SLANT_ITALIC if is_italic else cairocffi.FONT_SLANT_NORMAL,
        cairocffi.FONT_WEIGHT_BOLD if is_bold else cairocffi.FONT_WEIGHT_NORMAL,
    )
    context.set_font_size(_EM)
    context.move_to(0, 0)
    context.text_path(character)
    letters = {
        cairocffi.PATH_MOVE_TO: "M",
        cairocffi.PATH_LINE_TO: "L",
        cairocffi.PATH_CURVE_TO: "C",
        cairocffi.PATH_CLOSE_PATH: "Z",
    }
    path = tuple((letters[command], tuple(numbers)) for command, numbers in context.copy_path())
    if character.strip() and not any(command != "M" for command, _ in path):
        raise SystemTroubleError(
            "no font for texts was found on this system: install one (on Debian: apt install fonts-dejavu-core), "
            "or write an SVG, which browsers draw with fonts of their own"
        )
    return path, float(context.text_extents(character)[4])
