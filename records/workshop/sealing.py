"""Acts on seals: applied, seen whole, found broken or missing, broken for work, renewed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from uuid import UUID, uuid5

from django.utils.translation import gettext as _

from records.deviations.models import Deviation, DeviationCause
from records.ledger.actions import Act, Actor, act
from records.people.plans import InForce
from records.workshop import seals
from records.workshop.consequences import follow_seal
from records.workshop.data import SealData, SealMoved
from records.workshop.keeping import Refused, common, fitting, plan_at, press_of, wanted, write
from records.workshop.models import SealAct, WorkDone
from records.workshop.parts import PARTS, part_words

LONGEST_NUMBER = 40
LONGEST_NAME = 120


@dataclass(frozen=True, slots=True)
class SealSaved:
    """The record, and the deviation that it opened or joined."""

    row: SealAct
    deviation: Deviation | None


def record_seal(by: Actor, said: SealData) -> SealSaved:
    """Keep one act on a seal, once for each form, with what follows from it."""
    in_force = plan_at(said.at)
    row = _row(said, in_force)
    with act(by) as a:
        kept, new = write(a, by, row, in_force)
        deviation = follow_seal(a, kept, in_force) if new else deviation_of(kept.number)
    return SealSaved(kept, deviation)


def _row(said: SealData, in_force: InForce) -> SealAct:
    _refuse_elsewhere(said.place, in_force)
    if said.seal_place not in PARTS:
        raise Refused(_("Choose where the seal is."), "seal_place")
    if said.what not in seals.ACTS:
        raise Refused(_("Choose what was done or seen."), "what")
    seen = fitting(said.number, "number", LONGEST_NUMBER)
    sealed = said.what in seals.SEALING
    if sealed and not seen:
        raise Refused(_("Write the number of the new seal."), "number")
    if sealed and said.by_regulator is None:
        raise Refused(_("Say whether the regulator sealed it or the plant did."), "by_regulator")
    return SealAct(
        **common(said, in_force),
        seal_place=said.seal_place,
        seal_place_words=_words(said.seal_place, in_force),
        what=said.what,
        number_seen=seen,
        number_known=known_number(said.place, said.seal_place, said.at),
        sealed_by=wanted(said.sealed_by, "sealed_by", _("Write who set the seal."), LONGEST_NAME) if sealed else "",
        by_regulator=said.by_regulator if sealed else None,
    )


def _refuse_elsewhere(place: str, in_force: InForce) -> None:
    if not press_of(in_force, place):
        raise Refused(_("Seals are kept of pasteurizers."), "place")


def _words(seal_place: str, in_force: InForce) -> str:
    with in_force.speaking():
        return part_words(seal_place)


def known_number(press: str, seal_place: str, at: datetime) -> str:
    """The number of the seal there by the book; empty where none is known."""
    story = seals.stories(press, at).get(seal_place)
    return story.number if story is not None else ""


def deviation_of(number: int) -> Deviation | None:
    """The deviation that a record is a cause of, if any."""
    cause = DeviationCause.objects.filter(cause_number=number).order_by("-number").first()
    return Deviation.objects.filter(number=cause.deviation).first() if cause else None


def check_moved(moved: tuple[SealMoved, ...], sealed_by: str, by_regulator: bool | None) -> None:
    """Seals broken and renewed in a work: known places, numbers that fit, and who renewed them."""
    for one in moved:
        if one.seal_place not in PARTS:
            raise Refused(_("Choose where the seal is."), "seals")
        fitting(one.broken, "seals", LONGEST_NUMBER)
        fitting(one.renewed, "seals", LONGEST_NUMBER)
    if any(one.renewed.strip() for one in moved):
        wanted(sealed_by, "sealed_by", _("Write who set the seal."), LONGEST_NAME)
        if by_regulator is None:
            raise Refused(_("Say whether the regulator sealed it or the plant did."), "by_regulator")


def move_seals(a: Act, work: WorkDone, in_force: InForce) -> None:
    """The seal acts of a work, each a record of its own: broken at its start, renewed at its end."""
    for one in work.seals_broken:
        row = _of_work(work, one, seals.FOR_WORK, work.started_at, in_force)
        row.number_known = known_number(work.place, one["place"], work.started_at)
        follow_seal(a, a.write(row, observed_at=work.started_at), in_force)
    for one in work.seals_renewed:
        row = _of_work(work, one, seals.RENEWED, work.ended_at, in_force)
        row.number_known = known_number(work.place, one["place"], work.ended_at)
        row.sealed_by, row.by_regulator = one["by"], one["regulator"]
        a.write(row, observed_at=work.ended_at)


def _of_work(work: WorkDone, one: dict[str, object], what: str, at: datetime, in_force: InForce) -> SealAct:
    return SealAct(
        form_id=form_of(work.form_id, str(one["place"]), what),
        place=work.place,
        place_name=work.place_name,
        seal_place=str(one["place"]),
        seal_place_words=_words(str(one["place"]), in_force),
        what=what,
        number_seen=str(one["number"]),
        work=work.number,
        observed_at=at,
    )


def form_of(work_form: UUID, seal_place: str, what: str) -> UUID:
    """The form id of a seal act that a work's form stands for."""
    return uuid5(work_form, f"{seal_place} {what}")
