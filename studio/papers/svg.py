"""The drawing as SVG, to stand in a page or alone."""

from __future__ import annotations

from html import escape

from studio.core.picture import ClothPicture
from studio.papers.drawing import Rect, draw


def _n(value: float) -> str:
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _rect(shape: Rect, more: str = "") -> str:
    place = f'x="{_n(shape.x)}" y="{_n(shape.y)}"'
    size = f'width="{_n(shape.width)}" height="{_n(shape.height)}"'
    return f'<rect {place} {size} {more or f"""fill="{shape.colour}" """.strip()}/>'


def to_svg(picture: ClothPicture, words: str, width_mm: float = 80, height_mm: float = 100) -> str:
    """The blanket to scale; `words` say what is drawn, for whoever cannot see it."""
    drawing = draw(picture, width_mm, height_mm)
    shapes = "\n".join(_rect(s) for s in drawing.shapes)
    outline = _rect(drawing.outline, 'fill="none" stroke="#00000040" stroke-width="0.3"')
    size = f'width="{_n(drawing.width)}mm" height="{_n(drawing.height)}mm"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} role="img" '
        f'viewBox="0 0 {_n(drawing.width)} {_n(drawing.height)}" shape-rendering="crispEdges">\n'
        f"<title>{escape(words)}</title>\n{shapes}\n{outline}\n</svg>"
    )
