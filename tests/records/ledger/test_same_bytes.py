"""What an act writes and what the database gives back later are the same bytes, at the limits of every column."""

from __future__ import annotations

import uuid
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from records.ledger.actions import act
from records.ledger.models import Entry
from records.ledger.registry import kinds, text_of
from records.ledger.verify import verify
from tests.records.ledger.conftest import SOMEBODY
from tests.records.ledger.made import made_row

LIMITS = [
    "99999999999.9999", "-99999999999.9999", "0.0001", "-0.0001", "12345678901.2345", "0", "-0", "38.4", "1E+5", "0.30"
]  # fmt: skip


def kept(kind: str, **columns: Any) -> tuple[str, str]:
    """The entry of a new row, and what the row read back gives."""
    with act(SOMEBODY) as a:
        row = a.write(made_row(kind, **{"id": uuid.uuid4(), "amends": None, "form_id": uuid.uuid4(), **columns}))
    return Entry.objects.get(record=row.pk).content, text_of(kinds()[kind]._default_manager.get(pk=row.pk))


@pytest.mark.django_db
@pytest.mark.parametrize("number", LIMITS)
def test_decimals_of_fifteen_digits(number: str) -> None:
    """Eleven digits before the point and four after come back whole; zero has no sign."""
    written, read = kept("reading", value=Decimal(number))
    assert written == read
    assert f'"value":"{Decimal(number) + 0:.4f}"' in read


@pytest.mark.django_db
@pytest.mark.parametrize(
    "moment",
    [
        datetime(2026, 3, 8, 7, 59, 59, 999999, tzinfo=UTC),
        datetime(2026, 11, 1, 6, 30, 0, 1, tzinfo=UTC),
        datetime(1, 1, 2, tzinfo=UTC),
        datetime(9999, 12, 31, 23, 59, 59, 999999, tzinfo=UTC),
    ],
)
def test_times_to_the_microsecond(moment: datetime) -> None:
    """None is lost, in either database, at either end of the calendar."""
    written, read = kept("reading", due_at=moment)
    assert written == read and moment.isoformat(timespec="microseconds")[:26] in read


@pytest.mark.django_db
def test_text_stays_as_it_came() -> None:
    """Composed and decomposed letters are not the same text, and neither becomes the other."""
    for text in ("caf\u00e9", "cafe\u0301", "\ufb01n", " edges ", "\u2028", "\x7f\x01", "🧀"):
        written, read = kept("reading", note=text)
        assert written == read and text in read.replace("\\u0001", "\x01")


texts = st.text(st.characters(exclude_characters="\x00", exclude_categories=["Cs"]), max_size=30)
plain = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53) + 1, 2**53 - 1) | texts,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text("añ\ufb33 \"'", max_size=4), inner, max_size=4),
    max_leaves=8,
)


class AnyReading(TestCase):
    """Generated readings."""

    @settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
    @given(
        value=st.none() | st.decimals(-99999999999, 99999999999, places=4),
        due_at=st.none() | st.datetimes(timezones=st.just(UTC)),
        calibration_due=st.none() | st.dates(),
        places=st.dictionaries(st.text("añ1 ", max_size=5), plain, max_size=4),
        note=texts,
        agitator_ran=st.none() | st.booleans(),
        device_offset_ms=st.none() | st.integers(-(2**53) + 1, 2**53 - 1),
    )
    def test_any_reading_comes_back_as_it_was_written(
        self,
        value: Decimal | None,
        due_at: datetime | None,
        calibration_due: date | None,
        places: dict[str, Any],
        note: str,
        agitator_ran: bool | None,
        device_offset_ms: int | None,
    ) -> None:
        """Whatever the values: the row read back gives the entry's bytes, and the ledger verifies."""
        written, read = kept(
            "reading",
            value=value,
            due_at=due_at,
            calibration_due=calibration_due,
            places=places,
            note=note,
            agitator_ran=agitator_ran,
            device_offset_ms=device_offset_ms,
        )
        assert written == read
        assert verify().good
        assert connection.in_atomic_block
