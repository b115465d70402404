"""Canonical JSON against the library rfc8785, and the values that records may not hold."""

from __future__ import annotations

import json
import uuid
from datetime import UTC, date, datetime, timedelta, timezone
from decimal import Decimal
from typing import Any

import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from records.ledger.canonical import NotCanonical, canonical, fixed, moment, plain

pytestmark = pytest.mark.once

texts = st.text(st.characters(exclude_characters="\x00", exclude_categories=["Cs"]))
names = st.text(st.characters(max_codepoint=0xFFFF, exclude_characters="\x00", exclude_categories=["Cs"]))
scalars = st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | texts
values = st.recursive(scalars, lambda inner: st.lists(inner) | st.dictionaries(names, inner), max_leaves=30)


@given(values)
def test_the_text_is_that_of_the_reference_library(value: Any) -> None:
    """Byte for byte what rfc8785 0.1.4 writes, for every value that records may hold."""
    assert canonical(value).encode() == rfc8785.dumps(value)


@given(values)
def test_the_text_reads_back_equal(value: Any) -> None:
    """Nothing is lost: text stays as it came, composed or not."""
    assert json.loads(canonical(value)) == value


@pytest.mark.parametrize(
    "value", [1.5, float("nan"), Decimal("1"), b"x", (1, 2), {1: 2}, {"a": {1}}, 2**53, uuid.uuid4(), {"😀": 1}]
)
def test_what_is_no_plain_value_is_refused(value: Any) -> None:
    """Fractions, bytes, tuples, odd names and large numbers are mistakes of a caller."""
    with pytest.raises(NotCanonical):
        canonical([value])


@pytest.mark.parametrize("value", ["a\x00b", ["\x00"], {"a\x00": 1}, {"a": {"b": ["\x00"]}}])
def test_nul_is_refused(value: Any) -> None:
    """PostgreSQL cannot keep NUL, SQLite can: the ledger does not."""
    with pytest.raises(NotCanonical, match="NUL"):
        canonical(value)


def test_a_backslash_before_u0000_is_no_nul() -> None:
    """The six characters \\u0000 may be recorded."""
    assert canonical("\\u0000") == '"\\\\u0000"'


def test_half_a_character_is_refused() -> None:
    """A lone surrogate cannot be written as UTF-8."""
    with pytest.raises(NotCanonical, match="surrogate"):
        canonical("\ud800")


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("38.4", "38.4000"),
        ("-0", "0.0000"),
        ("-0.00001", "0.0000"),
        ("0E+30", "0.0000"),
        ("1E+3", "1000.0000"),
        ("0.00005", "0.0000"),
        ("0.00015", "0.0002"),
        ("99999999999.9999", "99999999999.9999"),
        ("-99999999999.9999", "-99999999999.9999"),
    ],
)
def test_decimals_have_the_places_of_their_column(value: str, text: str) -> None:
    """Four places, halves to even, zero without a sign."""
    assert fixed(Decimal(value), 4) == text


@pytest.mark.parametrize("value", ["100000000000", "99999999999.99995", "1E+40", "NaN", "Infinity"])
def test_decimals_beyond_their_column_are_refused(value: str) -> None:
    """More than eleven digits before the point, or no number at all."""
    with pytest.raises(NotCanonical, match="does not fit"):
        fixed(Decimal(value), 4)


def test_times_are_utc_with_six_decimals() -> None:
    """A time of any zone is written in UTC."""
    chicago = timezone(timedelta(hours=-6))
    assert moment(datetime(2026, 3, 3, 8, 5, tzinfo=chicago)) == "2026-03-03T14:05:00.000000Z"
    assert moment(datetime(2026, 3, 3, 14, 5, 0, 1, tzinfo=UTC)) == "2026-03-03T14:05:00.000001Z"


def test_a_time_without_zone_is_refused() -> None:
    """It would mean another moment on another machine."""
    with pytest.raises(NotCanonical, match="no time zone"):
        moment(datetime(2026, 3, 3))  # noqa: DTZ001  # the very thing that is refused


def test_plain_values_of_columns() -> None:
    """Dates and ids are text; a decimal needs its places."""
    assert plain(date(2026, 3, 3)) == "2026-03-03"
    assert plain(uuid.UUID(int=1)) == "00000000-0000-0000-0000-000000000001"
    with pytest.raises(NotCanonical):
        plain(Decimal("1"))
