"""Strokes of a technical drawing as SVG text: lines, words that fit, marks, dimensions, blanks to fill in."""

from __future__ import annotations

import base64
from dataclasses import dataclass
from functools import cache
from html import escape

from fontTools.ttLib import TTFont

from airtally.report.drawing import HAIR, INK, INK_2, LEAF, font_folder

FAMILY = "'Barlow Semi Condensed', 'Liberation Sans Narrow', 'Arial Narrow', sans-serif"
MIXED = "#DDD5C3"
"""Air as it comes; always edged in ink."""
ROOM_FOR_OTHER_FONTS = 1.15
"""A wider font may stand in for ours; words are laid out with this to spare. [-]"""
SMALLEST = 13.0
"""Least size of a word. [px]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A part of a drawing: its strokes and the height it takes. [px]"""

    strokes: tuple[str, ...]
    height: float


@cache
def _advances(weight: int) -> dict[int, float]:
    """Return how far each letter of the label font moves the pen, by code point, in sizes of the font. [-]"""
    with TTFont(font_folder() / f"BarlowSemiCondensed-{weight}.ttf", lazy=True) as font:
        widths, whole = font["hmtx"], font["head"].unitsPerEm
        return {code: widths[glyph][0] / whole for code, glyph in font.getBestCmap().items()}


def text_width(text: str, size: float, weight: int = 400) -> float:
    """Return how wide a text stands in the label font. [px]"""
    advances = _advances(700 if weight > 600 else 600 if weight > 400 else 400)
    return size * sum(advances.get(ord(letter), 1.0) for letter in text)


def wrapped(text: str, width: float, size: float, weight: int = 400) -> tuple[str, ...]:
    """Return a text as lines that fit a width, with room for a wider font. [px]"""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, size, weight) * ROOM_FOR_OTHER_FONTS <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return tuple(lines)


def words_at(
    x: float, y: float, text: str, *, size: float = 13.5, weight: int = 400, anchor: str = "start", fill: str = INK
) -> str:
    """Return one line of words with its baseline at y."""
    return (
        f'<text x="{x:g}" y="{y:g}" font-size="{size:g}" font-weight="{weight}" text-anchor="{anchor}" fill="{fill}">'
        f"{escape(text, quote=False)}</text>"
    )


def paragraph(
    x: float, y: float, width: float, text: str, *, size: float = 13.5, weight: int = 400, fill: str = INK
) -> Block:
    """Return words wrapped to a width, first baseline at y."""
    lines = wrapped(text, width, size, weight)
    leading = round(1.28 * size, 1)
    strokes = tuple(
        words_at(x, y + index * leading, line, size=size, weight=weight, fill=fill) for index, line in enumerate(lines)
    )
    return Block(strokes=strokes, height=leading * len(lines))


def path(d: str, *, width: float = 1.4, fill: str = "none", dash: str = "", stroke: str = INK) -> str:
    """Return a path."""
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<path d="{d}" fill="{fill}" stroke="{stroke}" stroke-width="{width:g}"{dashed}/>'


def box(x: float, y: float, width: float, height: float, *, line: float = 2.4, fill: str = LEAF) -> str:
    """Return an edged rectangle."""
    return (
        f'<rect x="{x:g}" y="{y:g}" width="{width:g}" height="{height:g}" fill="{fill}" stroke="{INK}" '
        f'stroke-width="{line:g}"/>'
    )


def filled(x: float, y: float, width: float, height: float, fill: str) -> str:
    """Return a rectangle without an edge."""
    return f'<rect x="{x:g}" y="{y:g}" width="{width:g}" height="{height:g}" fill="{fill}"/>'


def mark(x: float, y: float, label: str) -> str:
    """Return a number or letter in a ring, the tie between drawing and table."""
    ring = f'<circle cx="{x:g}" cy="{y:g}" r="10" fill="{LEAF}" stroke="{INK}" stroke-width="1.2"/>'
    return ring + words_at(x, y + 4.6, label, size=13, weight=600, anchor="middle")


def arrow(x: float, y: float, dx: float, dy: float) -> str:
    """Return an arrow from a point along one axis."""
    end = (x + dx, y + dy)
    if dx:
        side = -9.0 if dx > 0 else 9.0
        head = f"M{end[0]:g},{end[1]:g}l{side:g},-4.5v9z"
    else:
        side = -9.0 if dy > 0 else 9.0
        head = f"M{end[0]:g},{end[1]:g}l-4.5,{side:g}h9z"
    return path(f"M{x:g},{y:g}L{end[0]:g},{end[1]:g}", width=1.6) + path(head, width=0.5, fill=INK)


def upright_dimension(x: float, top: float, bottom: float, lines: tuple[str, ...]) -> str:
    """Return an upright dimension line with slashes at its ends and its words in a gap in the middle."""
    middle = 0.5 * (top + bottom)
    strokes = path(f"M{x:g},{top:g}V{bottom:g}", width=0.9)
    for y in (top, bottom):
        strokes += path(f"M{x - 7:g},{y:g}h14", width=0.9) + path(f"M{x - 4:g},{y + 4:g}l8,-8", width=1.6)
    height = 16.0 * len(lines)
    strokes += filled(x - 30.0, middle - 0.5 * height - 2.0, 60.0, height + 4.0, LEAF)
    for index, line in enumerate(lines):
        y = middle - 0.5 * height + 12.5 + 16.0 * index
        plain = len(lines) > 1
        strokes += words_at(x, y, line, size=13.0 if plain else 13.5, weight=400 if plain else 600, anchor="middle")
    return strokes


def share_bar(x: float, y: float, width: float, share: float, low: float, high: float) -> str:
    """Return a share of one as a bar from zero, its interval below it."""
    inside = min(max(share, 0.0), 1.0) * width
    ends = [x + min(max(end, 0.0), 1.0) * width for end in (low, high)]
    strokes = box(x, y, width, 12.0, line=1.2) + filled(x, y, inside, 12.0, INK_2)
    strokes += path(f"M{ends[0]:g},{y + 18:g}H{ends[1]:g}", width=1.4)
    return strokes + "".join(path(f"M{end:g},{y + 15:g}v6", width=1.4) for end in ends)


def blank(x: float, y: float, label: str) -> str:
    """Return a label with a dotted line below it, long and high enough for a pen."""
    return words_at(x, y, label, size=13, fill=INK_2) + path(f"M{x:g},{y + 36:g}h140", width=1.0, dash="1 3")


def patterns(prefix: str) -> str:
    """Return the hatches: upright for a filter, crosswise for a cleaner. ``prefix`` keeps ids apart on a page."""
    upright = (
        f'<pattern id="{prefix}-filter" width="5" height="5" patternUnits="userSpaceOnUse">'
        f'<rect width="5" height="5" fill="{LEAF}"/><path d="M2.5,0V5" stroke="{INK}" stroke-width="1.6"/></pattern>'
    )
    crosswise = (
        f'<pattern id="{prefix}-cleaner" width="7" height="7" patternUnits="userSpaceOnUse" '
        f'patternTransform="rotate(45)"><rect width="7" height="7" fill="{LEAF}"/>'
        f'<path d="M0,0H7M0,0V7" stroke="{INK}" stroke-width="1"/></pattern>'
    )
    return f"<defs>{upright}{crosswise}</defs>"


def font_faces() -> str:
    """Return the label font inside a style element, for a drawing that travels alone."""
    faces = []
    for weight in (400, 600):
        data = (font_folder() / f"BarlowSemiCondensed-{weight}.ttf").read_bytes()
        faces.append(
            "@font-face{font-family:'Barlow Semi Condensed';font-weight:"
            f"{weight};src:url(data:font/ttf;base64,{base64.b64encode(data).decode('ascii')})}}"
        )
    return f"<style>{''.join(faces)}</style>"


def sheet(strokes: tuple[str, ...], *, width: float, height: float, title: str, sentence: str, prefix: str) -> str:
    """Return a whole drawing with title and description for those who hear it."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" width="{width:g}" '
        f'height="{height:g}" role="img" aria-labelledby="{prefix}-title {prefix}-desc" font-family="{FAMILY}">'
        f'<title id="{prefix}-title">{escape(title, quote=False)}</title>'
        f'<desc id="{prefix}-desc">{escape(sentence, quote=False)}</desc>'
        f'{patterns(prefix)}<rect x="0.5" y="0.5" width="{width - 1:g}" height="{height - 1:g}" fill="{LEAF}" '
        f'stroke="{HAIR}"/>{"".join(strokes)}</svg>'
    )
