"""A texture for each product family, told apart in black on white, with a quiet tint on the screen."""

from plant.pictures.svg import Inks, element, rect

FAMILIES = ("raw milk", "cream", "skim", "milk", "mix", "ice cream", "other")
_TINTS = {
    "raw milk": "#dde6e4",
    "cream": "#efe0bd",
    "skim": "#e6e9e4",
    "milk": "#e2e4d2",
    "mix": "#f0e3c6",
    "ice cream": "#eeddd2",
    "other": "#ece6d8",
}
DASHES = "4 3"  # the top of a shape whose height says nothing: how full the vessel is is not known
_SIDE = {"raw milk": 6, "cream": 6, "skim": 10, "milk": 6, "mix": 8, "ice cream": 8, "other": 8}
# Strokes as paths in a square of the side above; they meet their neighbors at the edges.
_STROKES = {
    "raw milk": ("M-1 1L1 -1M0 6L6 0M5 7L7 5", 0.9),
    "cream": ("M0 6L6 0M0 0L6 6", 0.9),
    "skim": ("M-1 9L1 11M0 0L10 10M9 -1L11 1", 0.8),
    "mix": ("M4 2V6M2 4H6", 1.1),
    "ice cream": ("M0 6L4 2L8 6", 1.1),
    "other": ("M2 0V4M6 4V8", 1.1),
}


def family_name(family: str) -> str:
    """Return the family itself, or 'other' for one that has no texture."""
    return family if family in FAMILIES else "other"


def texture_id(ident: str, family: str) -> str:
    """Return the id of a family's texture in a drawing."""
    return f"{ident}-{family_name(family).replace(' ', '-')}"


def texture(ident: str, family: str, inks: Inks, tinted: bool) -> str:
    """Return the pattern element of one family."""
    side = _SIDE[family_name(family)]
    ground = rect(0, 0, side, side, _TINTS[family_name(family)] if tinted else inks.paper)
    if family_name(family) == "milk":
        dots = "".join(element("circle", cx=x, cy=y, r=0.85, fill=inks.ink) for x, y in ((1.5, 1.5), (4.5, 4.5)))
        inside = ground + dots
    else:
        d, width = _STROKES[family_name(family)]
        inside = ground + element("path", d=d, stroke=inks.ink, stroke_width=width, fill="none")
    return element(
        "pattern",
        inside,
        id=texture_id(ident, family),
        width=side,
        height=side,
        patternUnits="userSpaceOnUse",
    )
