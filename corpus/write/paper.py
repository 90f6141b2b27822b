"""From SVG pages to PDF and PNG, through cairo."""

import io
from collections.abc import Sequence
from typing import Any

from corpus.errors import SystemTroubleError
from corpus.write.outlines import with_outlines

PNG_DOTS_PER_INCH = 192
"""Pixels an inch of a PNG: legible on a screen of double density, and on paper at A5."""


def pdf_of(svgs: Sequence[str]) -> bytes:
    """One PDF of all pages, each in the size that its SVG says.

    Raises SystemTroubleError when cairo or a font is missing.
    """
    from pypdf import PdfReader, PdfWriter

    writer = PdfWriter()
    for svg in svgs:
        data = _cairosvg().svg2pdf(bytestring=with_outlines(svg).encode("utf-8"))
        writer.append(PdfReader(io.BytesIO(data)))
    buffer = io.BytesIO()
    writer.write(buffer)
    return buffer.getvalue()


def png_of(svg: str, dots_per_inch: int = PNG_DOTS_PER_INCH) -> bytes:
    """A PNG on white. Raises SystemTroubleError when cairo or a font is missing."""
    data = _cairosvg().svg2png(
        bytestring=with_outlines(svg).encode("utf-8"), scale=dots_per_inch / 96, background_color="white"
    )
    assert isinstance(data, bytes)
    return data


def _cairosvg() -> Any:
    try:
        import cairosvg
    except OSError as error:  # cairocffi finds no shared library
        raise SystemTroubleError(
            "PDF and PNG need the cairo library, which is not installed (on Debian: apt install libcairo2); "
            "--svg works without it"
        ) from error
    return cairosvg
