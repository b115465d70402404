"""The style sheet: contrast of every pair of colors, files that exist, targets large enough."""

import re
from pathlib import Path

import pytest

pytestmark = pytest.mark.once

STATIC = Path(__file__).resolve().parents[2] / "static"
SHEET = (STATIC / "css" / "daybook.css").read_text(encoding="utf-8")
RULES = re.sub(r"/\*.*?\*/", "", SHEET, flags=re.S)

# WCAG 2.2 success criterion 1.4.3 (text, AA) and 1.4.11 (edges of controls and marks).
TEXT, EDGE = 4.5, 3.0


def _palette(block: str) -> dict[str, str]:
    return dict(re.findall(r"--([a-z]+): (#[0-9a-f]{6})", block))


SCREEN = _palette(RULES.split("@media")[0])
PRINT = {**SCREEN, **_palette(RULES.split("@media print")[1])}
MORE = {**SCREEN, **_palette(RULES.split("prefers-contrast: more")[1].split("@media")[0])}


def luminance(color: str) -> float:
    """Return the relative luminance of an sRGB color (WCAG 2.2, definition of relative luminance)."""
    channels = [int(color[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Return the contrast ratio of two colors (WCAG 2.2, definition of contrast ratio)."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_agrees_with_published_values() -> None:
    """Black on white is 21:1, the top of the range (WCAG 2.2, contrast ratio: 1 to 21), and #777777 on white 4.48:1.

    The second is WebAIM's example of a gray that narrowly fails 4.5:1 (from memory).
    """
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)


@pytest.mark.parametrize("palette", [SCREEN, PRINT, MORE], ids=["screen", "print", "more contrast"])
@pytest.mark.parametrize("ground", ["paper", "card"])
@pytest.mark.parametrize("ink", ["ink", "quiet", "madder"])
def test_text_stands_out_from_its_ground(palette: dict[str, str], ground: str, ink: str) -> None:
    """Every text color on every ground has at least 4.5:1."""
    assert contrast(palette[ink], palette[ground]) >= TEXT


@pytest.mark.parametrize("ground", ["paper", "card"])
def test_text_on_ink_stands_out(ground: str) -> None:
    """Paper and card as text on an ink bar, and the other way round."""
    assert contrast(SCREEN[ground], SCREEN["ink"]) >= TEXT


@pytest.mark.parametrize("edge", ["ink", "madder", "quiet"])
def test_edges_of_controls_stand_out(edge: str) -> None:
    """A field's edge, a wrong field's edge and a focus ring have at least 3:1 on paper and card."""
    assert min(contrast(SCREEN[edge], SCREEN[ground]) for ground in ("paper", "card")) >= EDGE


def test_the_hairline_is_no_text_and_no_edge_of_a_control() -> None:
    """The one color too weak for text is used for rules of the page alone."""
    assert contrast(SCREEN["hair"], SCREEN["paper"]) < EDGE
    assert not re.search(r"(?<!-)color:\s*var\(--hair\)", RULES)
    for selector, body in re.findall(r"([^{}]+)\{([^{}]*var\(--hair\)[^{}]*)\}", RULES):
        assert not re.search(r"input|select|textarea|choice|\.key|\.act|\.out", selector), (selector, body)


def test_no_color_is_written_outside_the_palette() -> None:
    """Every color comes from the custom properties, so that the pairs above are all there are."""
    outside = re.sub(r":root\s*\{[^}]*\}", "", RULES)
    assert not re.findall(r"#[0-9a-fA-F]{3,8}\b(?=[^{}]*;)|\brgb|\bhsl", outside)


def test_the_drawings_use_the_same_palette() -> None:
    """The drawings' inks are those of the style sheet."""
    from plant.pictures import svg

    for name, ink in (("paper", "paper"), ("ink", "ink"), ("quiet", "quiet"), ("hair", "hair"), ("accent", "madder")):
        assert getattr(svg.SCREEN, name) == SCREEN[ink]
    assert min(contrast(c, svg.PRINT.paper) for c in (svg.PRINT.ink, svg.PRINT.quiet, svg.PRINT.accent)) >= TEXT


def test_touch_targets_are_large_enough() -> None:
    """48 px anywhere and 76 px on the round: more than the 24 px of WCAG 2.2, 2.5.8, by the plant's own rule."""
    assert "--touch: 48px" in RULES and "--key: 76px" in RULES
    for selector in (".key {", ".act, .out, .act-small {"):
        assert "min-height: " in RULES.split(selector)[1].split("}")[0]
    heights = [int(h) for h in re.findall(r"\.(?:key|act|out|choice)[^{]*\{[^}]*min-height: (\d+)px", RULES)]
    assert all(height >= 48 for height in heights)


def test_flat_and_square() -> None:
    """No shadows; corners of 4 px at most."""
    assert "shadow" not in RULES
    assert all(int(px) <= 4 for px in re.findall(r"border-radius: (\d+)", RULES))


@pytest.mark.parametrize("sheet", ["fonts.css", "daybook.css"])
def test_every_file_that_a_sheet_names_exists(sheet: str) -> None:
    """Fonts and pictures named in a style sheet are shipped, and none come from another host."""
    text = (STATIC / "css" / sheet).read_text(encoding="utf-8")
    for url in re.findall(r'url\("?([^")]+)"?\)', text):
        assert (STATIC / "css" / url).resolve().is_file(), url


def test_the_fonts_come_with_their_license() -> None:
    """The Open Font License travels with the fonts (OFL 1.1, condition 2)."""
    for name in ("OFL-next.txt", "OFL-mono.txt"):
        assert "SIL OPEN FONT LICENSE Version 1.1" in (STATIC / "fonts" / name).read_text(encoding="utf-8")
