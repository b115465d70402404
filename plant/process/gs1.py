"""GS1 element strings of a pack: (01) GTIN, (15) best before, (10) batch or lot, and the check digit of a GTIN.

Source: GS1 General Specifications, sections 3 (application identifiers) and 7.9 (check digit), from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

GTIN_LENGTHS = (8, 12, 13, 14)
LONGEST_LOT = 20  # AI (10): an..20
# GS1 character set 82, the invariant part of ISO/IEC 646: no space.
CSET_82 = frozenset("!\"%&'()*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz")


class Gs1Error(ValueError):
    """What cannot be said in an element string; `fault` is one of 'digits', 'length', 'check digit', 'lot', 'long'."""

    def __init__(self, fault: str) -> None:
        super().__init__(fault)
        self.fault = fault


@dataclass(frozen=True, slots=True)
class Elements:
    """`data`: what the symbol carries after its FNC1; `printed`: the same for people, identifiers in brackets."""

    data: str
    printed: str


def check_digit(digits: str) -> int:
    """The digit that follows these: weights 3 and 1 in turn from the right, the rest to the next ten. Raises Gs1Error.

    Digits have to be ASCII: another script's are not what a scanner reads.
    """
    if not digits or not (digits.isascii() and digits.isdecimal()):
        raise Gs1Error("digits")
    total = sum(int(one) * (3 if place % 2 == 0 else 1) for place, one in enumerate(reversed(digits)))
    return -total % 10


def gtin_14(text: str) -> str:
    """A GTIN of 8, 12, 13 or 14 digits as the 14 that (01) carries. Raises Gs1Error for any that is none."""
    if not (text.isascii() and text.isdecimal()):
        raise Gs1Error("digits")
    if len(text) not in GTIN_LENGTHS:
        raise Gs1Error("length")
    if check_digit(text[:-1]) != int(text[-1]):
        raise Gs1Error("check digit")
    return text.zfill(14)


def lot_text(code: str) -> str:
    """A pack's code as (10) can carry it: without its spaces, which the character set lacks. Raises Gs1Error."""
    found = "".join(code.split())
    if not found or not set(found) <= CSET_82:
        raise Gs1Error("lot")
    if len(found) > LONGEST_LOT:
        raise Gs1Error("long")
    return found


def elements(gtin: str, code: str, best_before: date | None) -> Elements:
    """(01), (15) where there is a date, and (10) last: it alone has no fixed length, so no separator is needed."""
    parts = [("01", gtin_14(gtin))]
    if best_before is not None:
        parts.append(("15", f"{best_before:%y%m%d}"))
    parts.append(("10", lot_text(code)))
    return Elements("".join(ai + text for ai, text in parts), " ".join(f"({ai}) {text}" for ai, text in parts))
