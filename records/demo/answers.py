"""What a reading of each check would ordinarily be at Quillbrook: invented ranges, drawn the same way each time.

A number is drawn from a check's own name, place and time, so that a plant built twice says the same.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from decimal import Decimal

from plant.hazard_plan.content import MonitoringDef


@dataclass(frozen=True, slots=True)
class Range:
    """From `low` to `high`, both possible, in steps of one unit of the last decimal place."""

    low: str
    high: str

    def draw(self, seed: str) -> str:
        """One value, as a person would type it."""
        low, high = Decimal(self.low), Decimal(self.high)
        step = Decimal(1).scaleb(int(low.as_tuple().exponent))
        steps = int((high - low) / step) + 1
        return str(low + step * (lottery(seed) % steps))


def lottery(seed: str) -> int:
    """A number that looks random and is always the same for this seed."""
    return int.from_bytes(hashlib.sha256(seed.encode()).digest()[:6], "big")


NUMBERS: dict[str, Range] = {
    "tanker-wash-hours": Range("6", "15"),
    "tanker-temperature": Range("36.8", "38.9"),
    "raw-temperature": Range("36.6", "38.8"),
    "raw-overnight": Range("37.5", "39.0"),
    "separator-cream": Range("39.20", "40.80"),
    "separator-skim": Range("0.05", "0.07"),
    "batch-fat": Range("-0.05", "0.06"),
    "press-sanitized": Range("176.0", "179.5"),
    "press-clock": Range("-1", "1"),
    "press-hold": Range("26.1", "26.1"),
    "press-pressure": Range("3.1", "4.6"),
    "press-cooled": Range("36.2", "38.6"),
    "press-diversions": Range("0", "0"),
    "press-chart-change": Range("163.6", "164.4"),
    "phosphatase": Range("14", "42"),
    "pasteurized-temperature": Range("36.2", "38.1"),
    "flavor-temperature": Range("36.8", "38.6"),
    "cooler-temperature": Range("36.4", "38.6"),
    "ingredient-temperature": Range("38.0", "39.8"),
    "hardening-temperature": Range("-24.0", "-18.0"),
    "pasteurized-overnight": Range("37.0", "38.5"),
    "draw": Range("21.0", "22.4"),
    "overrun": Range("84", "93"),
    "weight-gal": Range("4.80", "5.10"),
    "net-contents": Range("346", "355"),
    "core": Range("-14.0", "-8.0"),
    "foot-baths": Range("360", "520"),
    "sanitizer-strength": Range("140", "165"),
    "scale-pack": Range("500", "500"),
    "scale-batch": Range("49.95", "50.05"),
    "ice-point": Range("31.8", "32.2"),
    "water-chlorine": Range("0.7", "1.2"),
    "storage-recorders": Range("-0.5", "0.5"),
}

# By class of product: what the set-up of the press is run at.
CUT_IN = {"milk": "162.4", "raised": "167.3", "mix": "176.6"}
CUT_OUT = {"milk": "161.6", "raised": "166.7", "mix": "175.9"}
PRESS = {"milk": Range("163.6", "164.6"), "raised": Range("168.6", "169.4"), "mix": Range("177.6", "178.6")}
HOTTEST = "mix"  # read at this when it is not known what runs

INSTRUMENTS = {"tanker-temperature": "hand-1", "core": "hand-1", "ice-point": "hand-2"}
CODES = {
    "tanker-sample": "T-{number}",
    "flavor-lots": "FL-{number}",
    "feeder-lot": "HZ-2207",
    "delivery-lot": "HZ-2207",
}


def pair(product_class: str, seed: str) -> tuple[str, str]:
    """Indicating, then recording thermometer: the recorder never reads higher."""
    shown = PRESS.get(product_class, PRESS[HOTTEST]).draw(seed)
    return shown, str(Decimal(shown) - Decimal("0.1") * (lottery(seed + "recorder") % 4))


def wanted(monitoring: MonitoringDef, words: tuple[str, ...]) -> str:
    """The first answer that the plan wants of those offered, else the first one offered."""
    offered = monitoring.answer.choices or (("yes", "no") if monitoring.answer.kind == "yes_no" else ())
    return next((one for one in words if one in offered), offered[0] if offered else "")


def number(monitoring: MonitoringDef, product_class: str, seed: str) -> str:
    """A number for a check of one number."""
    if monitoring.key in ("cut-in", "cut-out"):
        table = CUT_IN if monitoring.key == "cut-in" else CUT_OUT
        return table.get(product_class, table[HOTTEST])
    return NUMBERS[monitoring.key].draw(seed)


def code(monitoring: MonitoringDef, seed: str) -> str:
    """A number or lot as it would be copied from a label."""
    return CODES.get(monitoring.key, "L-{number}").format(number=1000 + lottery(seed) % 9000)
