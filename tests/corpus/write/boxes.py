"""Where texts of a picture stand, measured on their outlines."""

import re
from collections.abc import Iterator

from lxml import etree

from corpus.write.outlines import with_outlines

Box = tuple[float, float, float, float]
"""Left, top, right and bottom, in units of the SVG."""


def boxes_of(element: "etree._Element") -> Iterator[Box]:
    """The box of each line of text inside an element of an SVG whose texts are outlines."""
    for group in element.iter("{*}g"):
        if group.get("class") != "text":
            continue
        lines: dict[float, list[tuple[float, float]]] = {}
        for path in group.iter("{*}path"):
            x, y = map(float, re.findall(r"-?[\d.]+", path.get("transform")))
            numbers = [float(number) for number in re.findall(r"-?[\d.]+", path.get("d"))]
            lines.setdefault(y, []).extend((x + a, y + b) for a, b in zip(numbers[::2], numbers[1::2], strict=True))
        for points in lines.values():
            xs, ys = zip(*points, strict=True)
            yield min(xs), min(ys), max(xs), max(ys)


def system_boxes(svg: str, kind: str) -> list[list[Box]]:
    """For each line of music the boxes of all texts of a class (``syl``, ``harm``), from left to right."""
    root = etree.fromstring(with_outlines(svg).encode())
    return [
        sorted(box for group in system.iter("{*}g") if group.get("class") == kind for box in boxes_of(group))
        for system in root.iter("{*}g")
        if system.get("class") == "system"
    ]
