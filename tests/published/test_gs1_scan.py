"""What scanners type of GS1 symbols, against the examples of GS1's own documents and the rules that they print.

Sources, all from memory: GS1 DataMatrix Guideline, 'Decoding: symbology identifier' (the pack of 2014-07-04); GS1
General Specifications, 3.2 (GTIN), 3.4.1 (10), 3.4.2 (11), 3.4.5 (15), 3.4.7 (17), 3.5.2 (21), 3.6.2 (310n), 7.8.4
(predefined lengths, separator), 7.9 (check digit), 7.12 (years); ISO/IEC 15424 (symbology identifiers).
"""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest

from plant.process.gs1 import elements
from plant.process.gs1_scan import PREDEFINED, VARIABLE, ScanError, Scanned, is_bare, is_marked, plain_of, read_scan

pytestmark = pytest.mark.once
GUIDE = "]d201095011015300031714070410AB-123"


@pytest.mark.parametrize(
    "text",
    [
        GUIDE,
        GUIDE[3:],  # the scanner sends no symbology identifier
        "\x1d" + GUIDE[3:],  # or an FNC1 in first position as its separator
        "]Q3" + GUIDE[3:],
        "]C1" + GUIDE[3:],
        "(01)09501101530003(17)140704(10)AB-123",
        " (01) 09501101530003 (17) 140704 (10) AB-123 ",
        "]d2010950110153000310AB-123\x1d17140704",  # a separator ends what has no fixed length
        "]d210AB-123\x1d\x1d010950110153000317140704\x1d",
    ],
)
def test_one_pack_however_it_is_typed(text: str) -> None:
    assert read_scan(text, 2026) == Scanned("AB-123", "09501101530003", use_by=date(2014, 7, 4))


def test_every_identifier_that_is_read() -> None:
    """(21) has no fixed length either; the weight (3103) of 7.8.4's example has; others are kept as they stand."""
    found = read_scan("]C1019501234567890331030001231126022815260316" "21S-1\x1d99own\x1d10L1", 2026)
    assert found == Scanned(
        "L1", "95012345678903", "S-1", date(2026, 2, 28), date(2026, 3, 16), more=("3103000123", "99own")
    )
    assert read_scan("(01)95012345678903(3103)000123(10)L1", 2026).more == ("3103000123",)


@pytest.mark.parametrize(
    ("typed", "day"),
    [("260200", date(2026, 2, 28)), ("280200", date(2028, 2, 29)), ("761231", date(2076, 12, 31)),
     ("770101", date(1977, 1, 1)), ("991231", date(1999, 12, 31))],
)  # fmt: skip
def test_days_and_centuries(typed: str, day: date) -> None:
    """3.4.5: a day of 00 is the last of the month; 7.12: 51 to 99 years ahead is the century before."""
    assert read_scan(f"15{typed}10A", 2026).best_before == day


def test_centuries_from_late_in_one() -> None:
    """7.12: what lies 50 to 99 years back is the next century."""
    assert read_scan("1549010110A", 2099).best_before == date(2149, 1, 1)
    assert read_scan("1550010110A", 2099).best_before == date(2050, 1, 1)


@pytest.mark.parametrize(
    ("text", "fault", "identifier"),
    [
        ("]d201095011015300041714070410AB-123", "check digit", "01"),
        ("010950110153000X10A", "digits", "01"),
        ("]d20109501101530", "short", "01"),
        ("]d2010950110153000\x1d310A", "short", "01"),
        ("(01)9501101530003(10)A", "short", "01"),
        ("(15)2603166(10)A", "length", "15"),
        ("]d21526134510A", "date", "15"),
        ("]d21526023010A", "date", "15"),
        ("]d21526o21010A", "date", "15"),
        ("]d210", "lot", "10"),
        ("(10)Ñ", "lot", "10"),
        ("]d210" + "A" * 21, "long", "10"),
        ("]d221" + "A" * 21 + "\x1d10A", "long", "21"),
        ("]d210A\x1d10B", "twice", "10"),
        ("]d2050950110153", "identifier", "05"),
        ("(05)123", "identifier", "05"),
        ("]d2" + GUIDE[3:19], "no lot", "10"),
        ("]d2", "no lot", "10"),
        ("]d210A\x00", "characters", ""),
    ],
)
def test_nonsense_says_where(text: str, fault: str, identifier: str) -> None:
    with pytest.raises(ScanError) as error:
        read_scan(text, 2026)
    assert (error.value.fault, error.value.identifier) == (fault, identifier)


def test_plain_codes_are_none() -> None:
    """]d1 and ]Q1 carry plain text; a code of figures that begins with 01 has no fourteen digits behind it."""
    assert [plain_of(one) for one in ("]Q1WM 0303", "]d1WM 0303", " WM 0303 ", "]d210A")] == [
        "WM 0303", "WM 0303", "WM 0303", "]d210A",
    ]  # fmt: skip
    assert not any(is_marked(one) or is_bare(one) for one in ("WM 0303", "010203", "]Q1WM 0303", "A (10) B"))
    assert is_marked(GUIDE) and is_bare(GUIDE[3:]) and is_marked("10A\x1d")


def test_lengths_of_the_table() -> None:
    """7.8.4 lists the identifiers of predefined length; none of them has data of variable length."""
    wanted = "00 01 02 03 04 11 12 13 14 15 16 17 18 19 20 31 32 33 34 35 36 41"
    assert " ".join(sorted(PREDEFINED)) == wanted
    assert {PREDEFINED[one] for one in ("31", "36")} == {10} and not VARIABLE & set(PREDEFINED)


@pytest.mark.parametrize("code", ["WM 0303", "A", "L" * 20, "1(15)2"])
def test_what_a_label_says_is_read_back(code: str) -> None:
    """The other half of the pair: elements() writes, read_scan() reads, whatever date comes before the lot."""
    for day in (None, date(2026, 3, 16)):
        made: Any = elements("9501101530003", code, day)
        wanted = Scanned("".join(code.split()), "09501101530003", best_before=day)
        assert read_scan(f"]d2{made.data}", 2026) == wanted == read_scan(made.data, 2026)
        if "(" not in code:
            assert read_scan(made.printed, 2026) == wanted
