"""GS1 check digits and element strings against GS1's own examples; the symbol against its finder pattern."""

from __future__ import annotations

from datetime import date

import pytest

from plant.process.gs1 import Gs1Error, check_digit, elements, gtin_14, lot_text

pytestmark = pytest.mark.once


@pytest.mark.parametrize(
    ("digits", "wanted"),
    [
        ("629104150021", 3),  # GS1, 'How to calculate a check digit manually', the worked GTIN-13 (from memory)
        ("950110153000", 3),  # the GTIN of GS1's own examples of (01), 09501101530003 (from memory)
        ("37610425002123456", 9),  # GS1 General Specifications, figure of the SSCC (from memory)
    ],
)
def test_check_digit(digits: str, wanted: int) -> None:
    """Weights of three and one from the right, whatever the length."""
    assert check_digit(digits) == wanted


def test_a_gtin_of_any_length_has_fourteen_digits() -> None:
    """Filled with zeros on the left; a wrong digit, another length or another script is none."""
    assert gtin_14("6291041500213") == "06291041500213"
    for text, fault in (("6291041500214", "check digit"), ("629104150021", "check digit"), ("62910", "length"),
                        ("62910415002x3", "digits"), ("٦٢٩١٠٤١٥٠٠٢١٣", "digits")):  # fmt: skip
        with pytest.raises(Gs1Error) as error:
            gtin_14(text)
        assert error.value.fault == fault


def test_element_string() -> None:
    """GS1 General Specifications 3.2, 3.4.3, 3.4.5 (from memory): (15) is YYMMDD, (10) stands last, unseparated."""
    found = elements("9501101530003", "WM 260302", date(2026, 3, 16))
    assert found.data == "0109501101530003" "15260316" "10WM260302"
    assert found.printed == "(01) 09501101530003 (15) 260316 (10) WM260302"
    assert elements("9501101530003", "A", None).data == "0109501101530003" "10A"


@pytest.mark.parametrize(("code", "fault"), [("", "lot"), ("WM#1", "lot"), ("ñ1", "lot"), ("A" * 21, "long")])
def test_what_a_lot_cannot_say(code: str, fault: str) -> None:
    """(10) takes up to 20 characters of GS1's set 82 (GS1 General Specifications 7.11, from memory)."""
    with pytest.raises(Gs1Error) as error:
        lot_text(code)
    assert error.value.fault == fault
