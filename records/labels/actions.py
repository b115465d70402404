"""The acts on a filling line. What has happened is kept with what follows; a roll that does not match, as caught.

What has not begun, and may not, is refused where it would begin: with the movement (records.labels.findings).
"""

from __future__ import annotations

from django.utils.translation import gettext as _

from records.checks.photos import put
from records.deviations.actions import Cause, open_or_extend
from records.deviations.holds import place_on_hold
from records.deviations.models import Deviation
from records.flow.choices import product_of
from records.flow.common import label, lot_by_id
from records.labels import queries, uneven
from records.labels.data import CheckData, ClearData, CountedData, OpenedData
from records.labels.findings import LABEL, point_of
from records.labels.keeping import Refused, columns, count, plan_at, void, wanted, write
from records.labels.models import (
    ANSWERS,
    KINDS,
    OFF,
    STILL,
    THINGS,
    ClearanceCheck,
    LineClearance,
    PackagingCounted,
    PackagingOpened,
)
from records.labels.words import kind_words
from records.ledger import files
from records.ledger.actions import Act, Actor, act
from records.people.plans import InForce

__all__ = ["check_clearance", "clear_line", "count_packaging", "open_packaging", "void"]


def clear_line(by: Actor, data: ClearData) -> LineClearance:
    """Keep that a line was cleared for a product, thing by thing, once for its form. Raises Refused, DifferentContent.

    What is still there is a fact: it is kept, and such a clearance does not count.
    """
    in_force = plan_at(data.at)
    things = []
    for thing in THINGS:
        answer = data.answers.get(thing, "")
        if answer not in ANSWERS:
            raise Refused(_("Say what became of it: taken off, none here, or still there."), thing)
        typed = data.counts.get(thing, "").strip()
        if answer == OFF:
            count(typed, f"{thing}_count")
        elif typed:
            raise Refused(_("Only what was taken off is counted here. Take the number out."), f"{thing}_count")
        things.append({"thing": thing, "answer": answer, "count": typed})
    row = LineClearance(
        **columns(data.form_id, data.place, data.product, data.at, data.note, in_force, data),
        things=things,
        clear=all(one["answer"] != STILL for one in things),
    )
    with act(by) as a:
        last = queries.last_through(row.place, row.observed_at)
        row.before, row.before_name = (last.product, last.product_name) if last else ("", "")
        return write(a, by, row)[0]


def check_clearance(by: Actor, data: CheckData) -> ClearanceCheck:
    """Keep a second person's look at a clearance; whoever cleared the line cannot be that person."""
    found = queries.that_stands(LineClearance.objects.all(), data.clearance)
    if found is None:
        raise Refused(_("There is no such clearance."))
    in_force = plan_at(data.at)
    if data.at < found.observed_at:
        raise Refused(_("This is before the line was cleared."), "at")
    if by.person_id == found.by_id:
        raise Refused(_("The second person has to be another one than who cleared the line."), "signer")
    if not data.agrees and not data.note.strip():
        raise Refused(_("Write what was found on the line."), "note")
    row = ClearanceCheck(
        **columns(data.form_id, found.place, found.product, data.at, data.note, in_force, data),
        clearance=found.number,
        agrees=data.agrees,
    )
    with act(by) as a:
        return write(a, by, row)[0]


def open_packaging(by: Actor, data: OpenedData) -> PackagingOpened:
    """Keep a roll or sleeve opened. One printed for another product is caught: it must not be used.

    Where packs had it already, that is a deviation, and what was filled on the line is held from its opening on.
    """
    in_force = plan_at(data.at)
    if data.kind not in KINDS:
        raise Refused(_("Choose one of the list."), "kind")
    printed = product_of(in_force, data.printed)
    if printed is None:
        raise Refused(_("Choose the product that is printed on it."), "printed")
    matches = printed.code == data.product
    if data.used and matches:
        raise Refused(_("It is the right one: take the tick away."), "used")
    _refuse_once_counted(data)
    kept = put(data.photo)
    row = PackagingOpened(
        **columns(data.form_id, data.place, data.product, data.at, data.note, in_force, data),
        kind=data.kind,
        roll_code=wanted(data.roll_code, "roll_code", _("Scan or write the lot code of the roll or sleeve."), 60),
        printed=printed.code,
        printed_name=printed.name,
        matches=matches,
        used=data.used,
        issued_typed=data.issued.strip(),
        issued=_issued(data.issued),
        photo=kept.get("file", "") or _photo_of(data.amends),
    )
    with act(by) as a:
        if data.photo is not None:
            files.note(a, row.photo, data.photo.name, data.photo.mime)
        saved, new = write(a, by, row)
        if new and not saved.matches and saved.used:
            _hold_what_had_it(a, saved, in_force)
    return saved


def _photo_of(amends: int | None) -> str:
    """An amendment without a photo of its own keeps the one of what it amends."""
    old = PackagingOpened.objects.filter(number=amends).first() if amends is not None else None
    return old.photo if old is not None else ""


def _refuse_once_counted(data: OpenedData) -> None:
    """A count names its roll by its code and reconciles with its issue: these are not changed under it."""
    old = PackagingOpened.objects.filter(number=data.amends).first() if data.amends is not None else None
    if old is None or not queries.counts_of([old.number]):
        return
    for field, typed, was in (
        ("roll_code", data.roll_code, old.roll_code), ("issued", data.issued, old.issued_typed),
    ):  # fmt: skip
        if typed.strip() != was:
            sentence = _("It was counted with this. Say first that the count did not happen; then count again.")
            raise Refused(sentence, field)


def _hold_what_had_it(a: Act, row: PackagingOpened, in_force: InForce) -> Deviation:
    """The wrong label, tub or lid on packs: a deviation, and what runs, or ran last, through the line is held."""
    with in_force.speaking():
        words = {
            "line": row.place_name, "kind": kind_words(row.kind), "code": row.roll_code, "printed": row.printed_name,
            "product": row.product_name,
        }  # fmt: skip
        sentence = _("%(line)s: packs of %(product)s had %(kind)s %(code)s, printed for %(printed)s") % words
    since = row.observed_at
    deviation, _opened = open_or_extend(
        a,
        in_force=in_force,
        control_point=point_of(in_force.plan, LABEL, row.place),
        subject=row.place,
        cause="legal rule",
        found=Cause(row.KIND, row.number, since, sentence),
        since_at=since,
    )
    ran = queries.last_through(row.place, since)
    lot = lot_by_id(ran.target_lot) if ran is not None and ran.product == row.product else None
    if ran is not None and lot is not None:
        # Nobody knows which of its packs had it: the whole code is held, from its first pack.
        place_on_hold(
            a,
            lot=lot.id,
            lot_label=label(lot, in_force),
            vessel=ran.target,
            since_at=ran.started_at,
            reason=sentence,
            deviation=deviation.number,
        )
    return deviation


def count_packaging(by: Actor, data: CountedData) -> PackagingCounted:
    """Keep the count of a roll or sleeve off the line, with its difference named. Raises Refused, DifferentContent."""
    in_force = plan_at(data.at)
    opened = queries.that_stands(PackagingOpened.objects.all(), data.opened)
    if opened is None:
        raise Refused(_("There is no such roll or sleeve."))
    if data.at < opened.observed_at:
        raise Refused(_("This is before it was opened."), "at")
    used, returned, damaged = (
        count(getattr(data, name), name) or 0 for name in ("used", "returned", "damaged")
    )
    row = PackagingCounted(
        **columns(data.form_id, opened.place, opened.product, data.at, data.note, in_force, data),
        opened=opened.number,
        roll_code=opened.roll_code,
        used_typed=data.used.strip(),
        used=used,
        returned_typed=data.returned.strip(),
        returned=returned,
        damaged_typed=data.damaged.strip(),
        damaged=damaged,
        difference=difference(opened.issued, used, returned, damaged),
        because=data.because.strip(),
    )
    with act(by) as a:
        counted = queries.counts_of([opened.number]).get(opened.number)
        if counted is not None and counted.form_id != data.form_id and counted.number != data.amends:
            raise Refused(_("It was counted already. If that is wrong, amend the count."))
        saved, new = write(a, by, row)
        if new:
            uneven.follow(a, saved, opened, in_force)
    return saved


def _issued(typed: str) -> int | None:
    found = count(typed, "issued", may_miss=True)
    if found == 0:
        sentence = _("A roll or sleeve that is opened has pieces. Leave this empty where nobody knows how many.")
        raise Refused(sentence, "issued")
    return found


def difference(issued: int | None, used: int, returned: int, damaged: int) -> int | None:
    """Issued − used − returned − damaged, in pieces; None where the issue is not known (common practice, no source)."""
    return None if issued is None else issued - used - returned - damaged
