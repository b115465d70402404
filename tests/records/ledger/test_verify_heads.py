"""Closed days' signed heads, approved plans and heads held outside, each against a consistent rewrite."""

from __future__ import annotations

import base64
import json
from collections.abc import Callable
from io import StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from plant.equipment.models import Vessel
from plant.hazard_plan.models import Monitoring
from plant.signing.authority import Authority
from records.ledger import tree
from records.ledger.heads import UnreadableHead, printed_lines, read_outside
from records.ledger.models import Entry, Subtree
from records.ledger.proof import proof_of
from records.ledger.registry import kinds
from records.ledger.verify import Report, verify
from records.people.keys import authority
from records.people.models import PlanApproval
from records.review.models import DayClosing
from tests.records.ledger.closing import close
from tests.records.ledger.conftest import append, triggers_away
from tests.records.ledger.test_verify_tampering import edit_row, named, rewrite, row_of

Tampered = Callable[..., Report]


@pytest.fixture
def three_days(installed: Any) -> list[DayClosing]:
    """A ledger with three closed days, some records before each."""
    days = []
    for day in range(3):
        append(4, first=100 * (day + 1))
        days.append(close(day))
    append(2, first=900)
    return days


def command(*words: str) -> tuple[int, str]:
    """`manage.py verify`: its exit status and what it printed."""
    out = StringIO()
    try:
        call_command("verify", *words, stdout=out)
    except SystemExit as left:
        return int(left.code or 0), out.getvalue()
    return 0, out.getvalue()


def test_closed_days_fit(three_days: list[DayClosing]) -> None:
    """Signatures, columns and roots agree."""
    report = verify()
    assert report.good and report.days == 3


def test_a_consistent_rewrite_is_named_by_the_first_day_that_no_longer_fits(
    three_days: list[DayClosing], tampered: Tampered
) -> None:
    """Row, content and leaf were rewritten alike in the second day: its head and the third's no longer fit."""
    first, second, _ = three_days
    report = tampered(lambda: rewrite(second.number - 1, by_name="Somebody Else"))
    assert named(report) == {("day", second.number)}
    (found,) = report.found
    assert "2026-03-04" in found.sentence and "the first of 2" in found.sentence
    assert f"changed after entry {first.tree_size}" in found.sentence


def test_a_ledger_written_anew_with_its_heads_needs_the_key(three_days: list[DayClosing], tampered: Tampered) -> None:
    """Whoever also writes the heads anew, but cannot sign, is told by the signature."""

    def change() -> None:
        rewrite(three_days[0].number - 1, by_name="Somebody Else")
        for day in three_days:
            root = tree.head(day.tree_size).hex()
            rewrite(day.number, root=root, head=day.head.replace(day.root, root))

    report = tampered(change)
    assert named(report) == {("day", day.number) for day in three_days}
    assert all("does not confirm its signature" in one.sentence for one in report.found)


def test_a_head_of_another_authority_is_named(
    three_days: list[DayClosing], tampered: Tampered, tmp_path: Path, set_clock: Any
) -> None:
    """A head signed anew with somebody else's keys is not this plant's."""
    other = Authority.create(tmp_path / "theirs", "Quillbrook Creamery", set_clock())
    day = three_days[2]
    signature = base64.b64encode(other.sign_head(day.head.encode())).decode()
    report = tampered(lambda: rewrite(day.number, signature=signature, certificate=other.plant_certificate_pem))
    assert "was not issued by this plant's authority" in report.found.kept[0].sentence


@pytest.mark.parametrize(
    ("column", "value", "says"),
    [
        ("tree_size", 2, "the columns beside it 2"),
        ("root", "00" * 32, "the columns beside it"),
        ("head", "{}", "cannot be read"),
        ("signature", "?", "cannot be read"),
        ("certificate", "none", "cannot be read"),
    ],
)
def test_each_part_of_a_head_counts(
    three_days: list[DayClosing], tampered: Tampered, column: str, value: object, says: str
) -> None:
    """Every column of a closing, rewritten with its entry, is noticed."""
    day = three_days[1]
    report = tampered(lambda: rewrite(day.number, **{column: value}))
    assert any(one.entry == day.number and says in one.sentence for one in report.found)


def test_a_head_cannot_sign_what_came_after_it(three_days: list[DayClosing], tampered: Tampered) -> None:
    """A closing that signs more entries than there were before it was not made by closing a day."""

    def change() -> None:
        day = three_days[0]
        size = tree.size()
        text = day.head.replace(f'"tree_size":{day.tree_size}', f'"tree_size":{size}')
        rewrite(day.number, tree_size=size, head=text)

    assert any("more than there were before it" in one.sentence for one in tampered(change).found)


# --- heads held outside


def cut_tail(after: int) -> None:
    """Take away everything after an entry, cleanly."""
    for number in list(Entry.objects.filter(number__gt=after).values_list("number", flat=True)):
        row_of(number).delete()
    Entry.objects.filter(number__gt=after).delete()


def test_a_cut_tail_shows_only_against_an_outside_head(three_days: list[DayClosing], tampered: Tampered) -> None:
    """Without its end the ledger fits in itself; the newest head held outside tells."""
    day = three_days[2]
    held = read_outside("\n".join(printed_lines(day.tree_size, day.root)))
    report = tampered(lambda: cut_tail(day.tree_size - 1))
    assert report.good
    (found,) = verify(held).found
    assert found.kind == "outside" and "its end was cut off" in found.sentence


def test_an_outside_head_vouches_up_to_its_size(three_days: list[DayClosing], tmp_path: Path) -> None:
    """What is printed says to which entry the sheet in hand reaches, and what only such a head can prove."""
    day = three_days[1]
    file = tmp_path / "sheet.txt"
    file.write_text("Day sheet\n" + "\n".join(printed_lines(day.tree_size, day.root)).title())
    status, printed = command("--head", str(file))
    assert status == 0 and f"it vouches for entries 1 to {day.tree_size}" in printed
    status, printed = command()
    assert status == 0 and "Only a head kept outside can" in printed


def test_an_outside_head_betrays_a_perfect_rewrite(three_days: list[DayClosing], tampered: Tampered) -> None:
    """With the keys in hand everything may be written anew, heads included; not the sheet in the inspector's folder."""
    held = read_outside("\n".join(printed_lines(three_days[0].tree_size, three_days[0].root)))

    def change() -> None:
        rewrite(three_days[0].number - 1, by_name="Somebody Else")
        for day in three_days:
            root = tree.head(day.tree_size).hex()
            head = day.head.replace(day.root, root)
            signature = base64.b64encode(authority().sign_head(head.encode())).decode()
            rewrite(day.number, root=root, head=head, signature=signature)

    assert tampered(change).good
    (found,) = verify(held).found
    assert found.kind == "outside" and f"something up to entry {held.tree_size} is not as it was" in found.sentence


def test_a_proof_file_is_an_outside_head(three_days: list[DayClosing], tmp_path: Path) -> None:
    """A proof handed out earlier carries its signed head."""
    file = tmp_path / "proof.json"
    file.write_text(json.dumps(proof_of(2)))
    status, printed = command("--head", str(file))
    assert status == 0 and f"entries 1 to {three_days[2].tree_size}" in printed


def test_an_outside_head_with_a_broken_signature_vouches_for_nothing(three_days: list[DayClosing]) -> None:
    """Its own signature is checked first."""
    proof = proof_of(2)
    proof["head"]["text"] = proof["head"]["text"].replace("2026", "2027")
    report = verify(read_outside(json.dumps(proof)))
    assert report.vouched == 0 and "does not hold in itself" in report.found.kept[0].sentence


@pytest.mark.django_db
@pytest.mark.parametrize("text", ["", "entries: 7", "[1]", '{"tree_size": "7", "root": "x"}', "head: " + "ab" * 31])
def test_what_is_no_head_is_refused_with_a_sentence(text: str, tmp_path: Path) -> None:
    """Not a traceback: what is wanted instead."""
    with pytest.raises(UnreadableHead):
        read_outside(text)
    file = tmp_path / "head.txt"
    file.write_text(text)
    with pytest.raises(CommandError, match="head"):
        call_command("verify", "--head", str(file))


@pytest.mark.django_db
def test_a_file_that_is_not_there_is_one_sentence() -> None:
    """The name and the reason."""
    with pytest.raises(CommandError, match="cannot be read"):
        call_command("verify", "--head", "/nowhere/head.txt")


# --- the command


def test_the_command_prints_count_head_and_result(three_days: list[DayClosing]) -> None:
    """And ends with 0."""
    status, printed = command()
    assert status == 0
    assert f"entries: {tree.size()}" in printed and tree.head(tree.size()).hex() in printed
    assert "everything fits" in printed and "closed days: 3" in printed


def test_the_command_ends_with_1_and_names_the_entry(three_days: list[DayClosing]) -> None:
    """Exit status 1, and a line for each difference."""
    with triggers_away():
        edit_row(2, by_name="Somebody Else")
    status, printed = command()
    assert status == 1
    assert "DIFFERS  entry 2" in printed and "by_name is 'Somebody Else' in the row" in printed


def test_verification_writes_nothing(three_days: list[DayClosing]) -> None:
    """It may run as a role that can only read."""
    before = Entry.objects.count(), Subtree.objects.count()
    command()
    assert (Entry.objects.count(), Subtree.objects.count()) == before


# --- plans


def test_an_approved_plan_fits_its_rows(plant: Any) -> None:
    """Quillbrook's small plan, approved through the acts."""
    assert PlanApproval.objects.count() == 1 and verify().good


def test_a_row_changed_under_an_approved_plan_is_named(plant: Any, tampered: Tampered) -> None:
    """Whoever widens a check behind the triggers is told by the approval's own text."""
    report = tampered(lambda: Monitoring.objects.filter(key="silo-shift").update(grace_min=600))
    (found,) = report.found
    assert found.kind == "plan" and found.entry == PlanApproval.objects.get().number
    assert "version 1" in found.sentence and "no longer say what was approved (monitoring)" in found.sentence


def test_a_vessel_described_anew_leaves_the_plan_as_approved(plant: Any) -> None:
    """What describes the plant may change after an approval; that has records of its own."""
    Vessel.objects.filter(code="silo-a").update(name="Silo One")
    assert verify().good


def test_rows_gone_from_under_an_approved_plan_are_named(plant: Any, tampered: Tampered) -> None:
    """Deleted rows, or ones that no longer make a plan, are no less noticed."""
    report = tampered(lambda: Monitoring.objects.all().delete())
    assert {one.kind for one in report.found} == {"plan"}


def test_an_approval_whose_hash_is_not_its_texts_is_named(plant: Any, tampered: Tampered) -> None:
    """The hash that people signed belongs to the text."""
    number = kinds()["plan approval"]._default_manager.get().number
    report = tampered(lambda: rewrite(number, content_hash="00" * 32))
    assert "is not that of the text" in " ".join(one.sentence for one in report.found)
