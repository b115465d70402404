"""An invented circular chart as a photo: drawn with Pillow by plain sines, not by the code that lays traces over it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from io import BytesIO

from PIL import Image, ImageDraw

WIDTH, HEIGHT = 1200, 900
CENTER = (600.0, 450.0)
INNER, OUTER = 120.0, 400.0  # pixels, of 100 and 220 °F
LOW, HIGH = 100.0, 220.0
PAPER, PRINT, PEN = (247, 242, 225), (150, 170, 150), (28, 40, 150)


def point(hour: float, value: float) -> tuple[float, float]:
    """Where an hour of the clock (noon at the top, clockwise, 24 h a turn) and a value are printed, in pixels."""
    radius = INNER + (value - LOW) / (HIGH - LOW) * (OUTER - INNER)
    turned = math.radians((hour - 12) * 15)
    return CENTER[0] + radius * math.sin(turned), CENTER[1] - radius * math.cos(turned)


def marks() -> dict[str, str]:
    """What a person would mark on it, in thousandths of its width."""

    def text(pixels: float) -> str:
        return f"{pixels / WIDTH * 1000:.1f}"

    noon, six = point(12, 220), point(18, 100)
    return {
        "center_x": text(CENTER[0]), "center_y": text(CENTER[1]),
        "inner_x": text(six[0]), "inner_y": text(six[1]), "inner_value": "100",
        "outer_x": text(noon[0]), "outer_y": text(noon[1]), "outer_value": "220",
        "mark_x": text(noon[0]), "mark_y": text(noon[1]), "turns": "clockwise", "unit": "°F",
    }  # fmt: skip


def chart_png(trace: Sequence[tuple[float, float]] = (), kind: str = "PNG") -> bytes:
    """The photo, with a pen's line through (hour of the clock, value)."""
    image = Image.new("RGB", (WIDTH, HEIGHT), (92, 98, 104))
    draw = ImageDraw.Draw(image)
    draw.ellipse(_box(OUTER + 30), fill=PAPER)
    for value in range(100, 221, 20):
        draw.ellipse(_box(INNER + (value - LOW) / (HIGH - LOW) * (OUTER - INNER)), outline=PRINT, width=1)
    for hour in range(24):
        draw.line([point(hour, LOW), point(hour, HIGH)], fill=PRINT, width=1)
    if trace:
        draw.line([point(hour, value) for hour, value in trace], fill=PEN, width=3)
    data = BytesIO()
    image.save(data, kind)
    return data.getvalue()


def _box(radius: float) -> tuple[float, float, float, float]:
    return CENTER[0] - radius, CENTER[1] - radius, CENTER[0] + radius, CENTER[1] + radius
