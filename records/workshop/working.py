"""Work on equipment: what was done, which seals it broke, what was counted, and which tests it asks for."""

from __future__ import annotations

from django.utils.translation import gettext as _

from records.ledger.actions import Actor, act
from records.people.plans import InForce
from records.workshop import sealing
from records.workshop.data import WorkData
from records.workshop.keeping import Refused, common, fitting, plan_at, press_of, wanted, write
from records.workshop.models import WorkDone
from records.workshop.parts import OTHER, PARTS, part_words, test_words, tests_after

MOST_COUNTED = 10_000
LONGEST_WORKER = 120


def record_work(by: Actor, said: WorkData) -> WorkDone:
    """Keep a work once for each form, with the seal acts it stands for. An amendment leaves those as they are."""
    in_force = plan_at(said.started_at)
    row = _row(said, in_force)
    with act(by) as a:
        kept, new = write(a, by, row, in_force)
        if new and row.amends is None:
            sealing.move_seals(a, kept, in_force)
    return kept


def _row(said: WorkData, in_force: InForce) -> WorkDone:
    columns = common(said, in_force)
    if not said.place:
        raise Refused(_("Choose where it was."), "place")
    if said.part not in PARTS and said.part != OTHER:
        raise Refused(_("Choose the part."), "part")
    if said.at < said.started_at:
        raise Refused(_("This is before the start."), "at")
    _check_counts(said)
    press = press_of(in_force, said.place)
    if not press and any(one.broken or one.renewed for one in said.seals):
        raise Refused(_("Seals are kept of pasteurizers."), "seals")
    sealing.check_moved(said.seals, said.sealed_by, said.by_regulator)
    broken = [{"place": one.seal_place, "number": one.broken.strip()} for one in said.seals if one.broken.strip()]
    renewed = [
        {
            "place": one.seal_place,
            "number": one.renewed.strip(),
            "by": said.sealed_by.strip(),
            "regulator": bool(said.by_regulator),
        }
        for one in said.seals
        if one.renewed.strip()
    ]
    tests = tests_after(said.part, bool(broken)) if press else []
    with in_force.speaking():
        words, tests_words = part_words(said.part), [test_words(one) for one in tests]
    row = WorkDone(
        **columns,
        part=said.part,
        part_words=words,
        what=wanted(said.what, "what", _("Write what was done.")),
        worker=wanted(said.worker, "worker", _("Write who did it."), LONGEST_WORKER),
        started_at=said.started_at,
        ended_at=said.at,
        seals_broken=broken,
        seals_renewed=renewed,
        parts_before=said.parts_before,
        parts_after=said.parts_after,
        tools_before=said.tools_before,
        tools_after=said.tools_after,
        count_note=fitting(said.count_note, "count_note"),
        opened=said.opened,
        cleaned=said.cleaned,
        sanitized=said.sanitized,
        tests=tests,
        tests_words=tests_words,
        plan_number=in_force.number,
    )
    return _with_seals_of_old(row) if row.amends is not None else row


def _with_seals_of_old(row: WorkDone) -> WorkDone:
    """Seal acts are entries of their own, amended there: an amended work keeps those that it was recorded with."""
    old = WorkDone.objects.filter(number=row.amends).first() if row.amends is not None else None
    if old is not None:
        row.seals_broken, row.seals_renewed = old.seals_broken, old.seals_renewed
    return row


def _check_counts(said: WorkData) -> None:
    pairs = (
        ("parts_after", said.parts_before, said.parts_after),
        ("tools_after", said.tools_before, said.tools_after),
    )
    for field, before, after in pairs:
        for count in (before, after):
            if count is not None and not 0 <= count <= MOST_COUNTED:
                raise Refused(_("Enter a whole number, zero or more."), field)
        if (before is None) != (after is None):
            raise Refused(_("Count before and after, or neither."), field)
        if before != after and not said.count_note.strip():
            raise Refused(_("The counts differ: write what is missing and where it may be."), "count_note")
    if said.opened and said.tools_before is None:
        raise Refused(_("Product surfaces were opened: count the tools before and after."), "tools_after")
