"""The few SVG elements that the drawings need, escaped, with short and steady numbers."""

import re
from dataclasses import dataclass

TEXT_FONT = "Atkinson Hyperlegible Next, DejaVu Sans, sans-serif"
NUMBER_FONT = "Atkinson Hyperlegible Mono, DejaVu Sans Mono, monospace"


@dataclass(frozen=True, slots=True)
class Inks:
    """Colors of one medium."""

    paper: str
    ink: str
    quiet: str
    hair: str
    accent: str


SCREEN = Inks(paper="#f8f4ea", ink="#1c2333", quiet="#5f5c53", hair="#c9c1ae", accent="#8a2f1d")
PRINT = Inks(paper="#ffffff", ink="#000000", quiet="#333333", hair="#a0a0a0", accent="#8a2f1d")


# The characters that XML 1.0 forbids (section 2.2, Char), and those that would end a text or an attribute.
_FORBIDDEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")
_SPECIAL = re.compile("[&<>\"']")
_SAFE = {"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&#39;"}


def escape(text: object) -> str:
    """Return the text safe inside an element or a quoted attribute; characters that XML forbids become
    spaces.
    """
    clean = str(text)
    if not (clean.isascii() and clean.isprintable()):
        clean = _FORBIDDEN.sub(" ", clean).encode("utf-8", "replace").decode("utf-8")
    return _SPECIAL.sub(lambda found: _SAFE[found[0]], clean)


def number(value: float) -> str:
    """Return a coordinate with at most two decimals and no trailing zeros, never '-0' or an exponent.

    Raises ValueError for a value that is not finite.
    """
    if value != value or value in (float("inf"), float("-inf")):
        raise ValueError(f"a drawing cannot place the value {value}")
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def _attributes(values: dict[str, object]) -> str:
    parts = []
    for key, value in values.items():
        if value is None:
            continue
        shown = number(value) if isinstance(value, int | float) else escape(value)
        parts.append(f' {key.rstrip("_").replace("_", "-")}="{shown}"')
    return "".join(parts)


def element(tag: str, inside: str = "", /, **attributes: object) -> str:
    """Return one element; ``inside`` is SVG already, underscores in names become hyphens, None leaves one
    out.
    """
    written = _attributes(attributes)
    return f"<{tag}{written}>{inside}</{tag}>" if inside else f"<{tag}{written}/>"


def line(x1: float, y1: float, x2: float, y2: float, stroke: str, width: float = 1, dash: str | None = None) -> str:
    """Return a straight stroke."""
    return element("line", x1=x1, y1=y1, x2=x2, y2=y2, stroke=stroke, stroke_width=width, stroke_dasharray=dash)


def rect(x: float, y: float, width: float, height: float, fill: str, stroke: str | None = None, edge: float = 1) -> str:
    """Return a rectangle, outlined when a stroke is given."""
    return element(
        "rect",
        x=x,
        y=y,
        width=width,
        height=height,
        fill=fill,
        stroke=stroke,
        stroke_width=edge if stroke else None,
    )


def path(
    d: str, stroke: str = "none", width: float = 1, fill: str = "none", join: str | None = None, dash: str | None = None
) -> str:
    """Return a path."""
    return element(
        "path", d=d, fill=fill, stroke=stroke, stroke_width=width, stroke_linejoin=join, stroke_dasharray=dash
    )


def words(
    x: float,
    y: float,
    text: object,
    fill: str,
    size: float = 12,
    *,
    anchor: str = "start",
    weight: int = 400,
    font: str = TEXT_FONT,
) -> str:
    """Return one line of text with its baseline at y."""
    return element(
        "text",
        escape(text),
        x=x,
        y=y,
        fill=fill,
        font_family=font,
        font_size=size,
        font_weight=weight if weight != 400 else None,
        text_anchor=anchor if anchor != "start" else None,
    )


def titled(inside: str, title: object) -> str:
    """Return a group that says what it is when asked (a tip under the pointer, words for a screen reader)."""
    return f"<g><title>{escape(title)}</title>{inside}</g>"


def drawing(width: float, height: float, inside: str, *, title: str, desc: str = "", ident: str, css_class: str) -> str:
    """Return the whole drawing; ``ident`` keeps its ids apart from those of other drawings on the page."""
    name = escape(ident)
    labelled = f"{name}-t {name}-d" if desc else f"{name}-t"
    head = f'<title id="{name}-t">{escape(title)}</title>'
    if desc:
        head += f'<desc id="{name}-d">{escape(desc)}</desc>'
    size = f'width="{number(width)}" height="{number(height)}" viewBox="0 0 {number(width)} {number(height)}"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="{escape(css_class)}" {size} role="img" '
        f'aria-labelledby="{labelled}">{head}{inside}</svg>'
    )
