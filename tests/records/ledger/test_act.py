"""One act: one transaction, one moment, an entry for each record, numbers without a gap."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from django.db import IntegrityError

from plant import clock
from records.ledger.actions import WATCH, act
from records.ledger.canonical import NotCanonical
from records.ledger.models import Entry, Subtree
from records.ledger.registry import kinds
from records.ledger.verify import verify
from tests.records.ledger.conftest import SOMEBODY, append
from tests.records.ledger.made import made_row

pytestmark = pytest.mark.django_db


def numbers() -> list[int]:
    """Of all entries."""
    return list(Entry.objects.values_list("number", flat=True))


def test_every_row_has_an_entry_of_its_act() -> None:
    """Rows of one act share its id, its moment and its person, and have numbers in a row."""
    with act(SOMEBODY) as a:
        rows = [a.write(made_row(kind)) for kind in ("reading", "verdict", "hold")]
    assert [row.number for row in rows] == numbers() == [1, 2, 3]
    assert {(row.act, row.received_at, row.by_name, row.tablet) for row in rows} == {
        (a.id, a.now, "Ines Alder", "Round tablet")
    }
    assert set(Entry.objects.values_list("act", flat=True)) == {a.id}


def test_the_two_times_are_kept_apart() -> None:
    """Observed is what the caller says, received what the clock says."""
    observed, received = datetime(2026, 3, 3, 14, tzinfo=UTC), datetime(2026, 3, 3, 15, tzinfo=UTC)
    with clock.replaced(lambda: received), act(WATCH) as a:
        row = a.write(made_row("reading"), observed_at=observed)
    assert (row.observed_at, row.received_at) == (observed, received)


def test_a_failed_act_leaves_nothing() -> None:
    """An exception takes back every row and entry of the act, and its numbers."""
    append(2)
    with pytest.raises(RuntimeError), act(WATCH) as a:
        a.write(made_row("wash", 3))
        raise RuntimeError
    append(1, first=5)
    assert numbers() == [1, 2, 3] and not kinds()["wash"]._default_manager.exists()


def test_a_failed_attempt_leaves_the_rest_of_the_act() -> None:
    """What failed inside `attempt` is taken back with its numbers; the act goes on."""
    append(1, ("lot",))
    with act(WATCH) as a:
        a.write(made_row("wash", 2))
        with pytest.raises(IntegrityError), a.attempt():
            a.write(made_row("wash", 3))
            a.write(made_row("lot", 1))
        a.write(made_row("hold", 4))
    assert numbers() == [1, 2, 3]
    assert verify().good


def test_an_act_inside_another_continues_its_numbers() -> None:
    """The inner act is one of its own; the outer goes on after it."""
    with act(WATCH) as outer:
        outer.write(made_row("wash", 1))
        with act(SOMEBODY) as inner:
            inner.write(made_row("wash", 2))
        outer.write(made_row("wash", 3))
    assert numbers() == [1, 2, 3]
    assert list(Entry.objects.values_list("act", flat=True)) == [outer.id, inner.id, outer.id]


def test_a_failed_inner_act_gives_its_numbers_back() -> None:
    """The outer act's next record takes the number that the inner one had."""
    with act(WATCH) as outer:
        with pytest.raises(RuntimeError), act(SOMEBODY) as inner:
            inner.write(made_row("wash", 1))
            raise RuntimeError
        outer.write(made_row("wash", 2))
    assert numbers() == [1]
    assert verify().good


@pytest.mark.parametrize(
    ("column", "value", "says"),
    [("typed", "38\x00.4", "NUL"), ("places", {"trap 1": 1.5}, "float"), ("value", "1e11", "does not fit")],
)
def test_what_the_ledger_cannot_hold_is_refused_before_the_database(column: str, value: object, says: str) -> None:
    """NUL, a fraction in JSON and a number too long raise NotCanonical on both databases; nothing is written."""
    with act(WATCH) as a:
        with pytest.raises(NotCanonical, match=says):
            a.write(made_row("reading", 1, **{column: value}))
        a.write(made_row("reading", 1))
    assert numbers() == [1]


def test_values_of_other_types_are_written_as_their_column_reads_them() -> None:
    """A number given as text, an id as text, a TextChoices: the entry equals what the row gives back."""
    with act(WATCH) as a:
        row = made_row("reading", 1, value="38.4", lot="00000000-0000-0000-0000-00000000000A", subject=12)
        a.write(row)
    assert verify().good


def test_subtrees_are_stored_as_they_complete() -> None:
    """512 entries complete two subtrees of 256 and one of 512."""
    append(512)
    assert sorted(Subtree.objects.values_list("level", "index")) == [(8, 0), (8, 1), (9, 0)]
