"""What stands between now and the first product of each place, by what is recorded. It never says that a place is safe.

Each line is a sentence with the page that answers it. AGAINST: the records say so. LATE: a check that is late.
UNKNOWN: nothing is recorded, and the papers may have it. Nothing is stored: it is computed for a moment.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from datetime import datetime
from uuid import UUID

from django.urls import reverse
from django.utils.translation import gettext as _

from plant.equipment.models import VesselKind
from plant.hazard_plan.content import VesselDef
from records.charts import queries as charts
from records.charts.recorders import recorders
from records.checks.queries import DueCheck, unsettled
from records.deviations.queries import open_deviations, open_holds
from records.flow import further
from records.flow.choices import in_flow_order, vessel_of, washable
from records.flow.findings import line_not_ready, vessel_not_ready
from records.flow.floor import Place, floor_at, not_recorded_words
from records.flow.history import History, load
from records.flow.joined import being_washed_beside
from records.flow.queries import wash_not_recorded
from records.people.plans import InForce
from records.review import ready_kit, ready_training
from records.review.ready_lines import AGAINST, LATE, UNKNOWN, Ready, late_words
from records.runs import queries as runs
from records.runs import starting
from records.workshop import overview
from records.workshop.standing import bars_to_start, known_against


def ready_at(in_force: InForce, now: datetime, *, may_answer: bool = False) -> list[Ready]:
    """The whole plant first, then each place in flow order. The number of queries does not grow with the past.

    `may_answer`: the reader may answer checks, so a check leads to its own page.
    """
    history = load(in_force.plan, now, now)
    floor = {one.vessel.code: one for one in floor_at(in_force, now)}
    waiting = unsettled(now)
    kit = ready_kit.asked(in_force)  # they have lines of their own
    late = _late(one for one in waiting if (one.due.key, one.due.subject) not in kit)
    uncharted = _without_chart(in_force)
    in_vessels = {one.contents.lot for one in floor.values() if one.contents.holds}
    found = [_plant(in_force, now, late, in_vessels)]
    found[0].add(AGAINST, _begun_elsewhere(history, now, in_force), reverse("records:washes"))
    ready_kit.add(found[0], in_force, now, waiting, may_answer=may_answer)
    ready_training.add(found[0], in_force, now)
    for vessel in in_flow_order(in_force.plan):
        place = floor[vessel.code]
        one = Ready(vessel, takes=not place.contents.holds, state=_state(place))
        for number, sentence in place.unproven:
            page = reverse("records:wash", args=[number]) if number else reverse("records:washes")
            one.add(AGAINST, [sentence], page)
        if place.not_recorded is not None:
            one.add(AGAINST, [place.not_recorded_words], reverse("records:vessel", args=[vessel.code]))
        one.add(AGAINST, being_washed_beside(vessel.code, now, history, in_force), reverse("records:washes"))
        _clean(one, vessel, history, now, in_force)
        _recorded(one, place)
        one.add(LATE, (late_words(check) for check in late[vessel.code]), reverse("records:due"))
        if vessel.kind != VesselKind.PASTEURIZER or not _run_lists(one, vessel, now, in_force):
            _gates(one, vessel, now, in_force, may_answer)
        one.add(UNKNOWN, uncharted.get(vessel.code, ()), reverse("records:charts"))
        found.append(one)
    return found


def _begun_elsewhere(history: History, now: datetime, in_force: InForce) -> list[str]:
    """Washes begun and not recorded of what is no vessel: a separator, say."""
    codes = [code for code, _name in washable(in_force.plan) if vessel_of(in_force, code) is None]
    begun = [wash_not_recorded(history, code, now, in_force.plan) for code in codes]
    return [not_recorded_words(one) for one in begun if one is not None]


def _state(place: Place) -> str:
    one = place.contents
    return one.words if one.holds else place.condition


def _clean(one: Ready, vessel: VesselDef, history: History, now: datetime, in_force: InForce) -> None:
    """Washed, then sanitized within the plan's hours; a vessel that holds product is asked for none of it."""
    found = line_not_ready if not vessel.holds_product else vessel_not_ready
    why = found(vessel.code, history, now, in_force)
    one.add(AGAINST, [why] if why else [], reverse("records:vessel", args=[vessel.code]))


def _recorded(one: Ready, place: Place) -> None:
    """Out of service, held product, open deviations, a clock that ran out."""
    address = reverse("records:vessel", args=[place.vessel.code])
    if place.contents.out_of_service:
        one.add(AGAINST, [_("Out of service.")], address)
    one.add(AGAINST, (_("What it holds is on hold: %(why)s") % {"why": why} for why in place.holds), address)
    for number, sentence in place.deviations:
        words = {"number": number, "sentence": sentence}
        open_words = _("Deviation %(number)d is open: %(sentence)s") % words
        one.add(AGAINST, [open_words], reverse("records:deviation", args=[number]))


def _run_lists(one: Ready, press: VesselDef, now: datetime, in_force: InForce) -> bool:
    """A run that goes on has its own list, checks before use among it; without one, False: seals, tests and works."""
    run = runs.open_run(press.code)
    if run is not None:
        address = reverse("records:run", args=[run.number])
        one.add(AGAINST, (item.sentence for item in starting.against(run, now, in_force)), address)
        one.add(UNKNOWN, starting.unknown(run, now, in_force), address)
        return True
    workshop = reverse("records:workshop-place", args=[press.code])
    known = {
        sentence
        for set_up in in_force.plan.set_ups
        if set_up.press == press.code
        for sentence in known_against(press.code, set_up.key, now, in_force)
    }
    for sentence in bars_to_start(press.code, now, in_force):
        one.add(AGAINST if sentence in known else UNKNOWN, [sentence], workshop)
    return False


def _gates(one: Ready, vessel: VesselDef, now: datetime, in_force: InForce, may_answer: bool) -> None:
    """The plan's checks before use, each with its last answer that still counts."""
    if not starting.start_checks(vessel.code, in_force):
        return
    for item in starting.gates(vessel.code, now, in_force):
        if not item.is_good:
            kind = UNKNOWN if item.outcome == starting.NOT_RECORDED else AGAINST
            address = starting.answer_page(item, vessel.code, now, reverse("records:ready")) if may_answer else ""
            one.add(kind, [item.sentence], address)


def _without_chart(in_force: InForce) -> dict[str, list[str]]:
    """By place: the recorders on which the book knows of no paper chart."""
    on = {one.on.recorder for one in charts.on_now()}
    found: dict[str, list[str]] = defaultdict(list)
    for one in recorders(in_force):
        if one.code not in on:
            found[one.place].append(_("%(recorder)s: no chart is on, by the book") % {"recorder": one.label})
    return found


def _late(waiting: Iterable[DueCheck]) -> dict[str, list[DueCheck]]:
    """By place: the checks that are late now."""
    found: dict[str, list[DueCheck]] = defaultdict(list)
    for one in waiting:
        if one.state == "late":
            found[one.due.subject].append(one)
    return found


def _plant(
    in_force: InForce, now: datetime, late: dict[str, list[DueCheck]], in_vessels: Collection[UUID | None]
) -> Ready:
    """What belongs to no vessel: other deviations, holds, late checks, instruments past their calibration."""
    one = Ready(None)
    places = {vessel.code for vessel in in_force.plan.vessels}
    for deviation in open_deviations(now):
        if deviation.subject not in places:
            words = {"number": deviation.number, "sentence": deviation.sentence}
            sentence = _("Deviation %(number)d is open: %(sentence)s") % words
            one.add(AGAINST, [sentence], reverse("records:deviation", args=[deviation.number]))
    for held in open_holds(now):
        if held.lot in in_vessels:
            continue  # its vessel says so
        words = {"lot": held.lot_label, "why": held.reason}
        sentence = _("%(lot)s is on hold: %(why)s") % words
        one.add(AGAINST, [sentence], reverse("records:hold", args=[held.number]))
    for code, checks in late.items():
        if code not in places:
            one.add(LATE, (late_words(check) for check in checks), reverse("records:due"))
    for row in overview.instrument_rows(now, in_force):
        if row.state == overview.OVERDUE:
            words = {"code": row.instrument.code, "name": row.instrument.name, "day": row.instrument.calibration_due}
            sentence = _("%(code)s %(name)s: calibration was due %(day)s") % words
            one.add(AGAINST, [sentence], reverse("records:workshop"))
    for sentence, address in further.of_the_floor(now, in_force):
        one.add(LATE, [sentence], address)
    return one
