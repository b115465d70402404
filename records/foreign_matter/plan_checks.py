"""The plan's checks that a look here answers, and the control point that foreign matter belongs to."""

from __future__ import annotations

from django.urls import reverse

from plant.hazard_plan.content import ControlPointDef, MonitoringDef, Plan
from records.flow.pages import with_query
from records.foreign_matter.models import Breakage, DetectorChallenge, Look, PartsCount, StrainerLook
from records.people.plans import InForce

DETECTOR, PARTS = "metal detector", "parts"
# Limits of the plan by what they are about.
ABOUT = ("strainer", "magnet", DETECTOR, PARTS)
LOAD = "tanker"  # the plan's event of a load
SLUGS = {DETECTOR: "detector"}  # the forms by their addresses, where the word is another
NO_POINT = "foreign-matter"  # where the plan names none: the deviation stands all the same


def kind_of(row: Look) -> str:
    """What a row is about, in the plan's word for the quantity; empty for a breakage."""
    if isinstance(row, StrainerLook):
        return row.device
    return {DetectorChallenge: DETECTOR, PartsCount: PARTS, Breakage: ""}[type(row)]


def check_of(about: str, place: str, in_force: InForce) -> MonitoringDef | None:
    """The first of the plan's checks on this at a place."""
    return next(iter(checks_at(about, place, in_force)), None)


def answered_by(row: Look, in_force: InForce) -> MonitoringDef | None:
    """The check that a look answers: one may be due at a run's start, in it, at its end and after a load."""
    about = kind_of(row)
    when = row.when if isinstance(row, DetectorChallenge) else row.after if isinstance(row, StrainerLook) else ""
    known = checks_at(about, row.place, in_force) if about else []
    return next((one for one in known if _fits(one, when)), None)


def _fits(check: MonitoringDef, when: str) -> bool:
    """Whether a check falls due when the look says that it was made; one by the clock or the calendar always may."""
    often = check.frequency
    if often.kind == "during_run":
        return when not in ("start", "end", "after work", "load")
    if often.kind == "run_ends":
        return when not in ("hourly", "after work", "load") and (
            {"start": often.first, "end": often.last}.get(when, True)
        )
    return when != "run" if often.event == LOAD else True


def checks_at(about: str, place: str, in_force: InForce) -> list[MonitoringDef]:
    """The plan's checks on this at a place: by their limit's quantity; parts also by a yes or no at the same point."""
    points = {one.control_point for one in _checks(in_force)}
    here = [one for one in in_force.plan.monitoring if place in one.subjects]
    named = [one for one in here if about in _quantities(one, in_force)]
    if not named and about == PARTS:
        named = [one for one in here if one.control_point in points and one.answer.kind == "yes_no"]
    return [one for one in named if one.answer.kind in ("choice", "yes_no")]


def point_of(about: str, place: str, in_force: InForce) -> ControlPointDef | None:
    """The control point: of the check, else of any check on foreign matter at the place, else anywhere."""
    check = check_of(about, place, in_force)
    if check is None:
        known = _checks(in_force)
        here = [one for one in known if place in one.subjects]
        check = next(iter(here or known), None)
    return in_force.plan.control_point_by_key(check.control_point) if check is not None else None


def form_for(check: MonitoringDef, place: str, event: str, in_force: InForce) -> str:
    """The address of the form that answers one of the plan's checks, with what is known of it; empty: a plain answer.

    Only a check that names in a limit what is looked at has one.
    """
    about = next((one for one in ABOUT if one in _quantities(check, in_force)), "")
    if not about or check.answer.kind not in ("choice", "yes_no") or not place:
        return ""
    often = check.frequency
    if about == DETECTOR:
        once = {(True, False): "start", (False, True): "end"}.get((often.first, often.last), "")
        known = {"when": "hourly" if often.kind == "during_run" else once}
    elif about == PARTS:
        known = {}
    else:
        known = {"after": "load" if often.event == LOAD else "run" if often.kind == "run_ends" else ""}
    address = reverse("records:foreign-matter-new", args=[SLUGS.get(about, about), place])
    return with_query(address, **known)


def planned_pieces(plan: Plan) -> dict[str, str]:
    """The plan's test pieces [mm], by their metal, as it writes them; empty where it names none."""
    own = plan.settings
    return {
        "ferrous": own.ferrous_piece_mm, "non-ferrous": own.non_ferrous_piece_mm, "stainless": own.stainless_piece_mm,
    }  # fmt: skip


def good_answers(check: MonitoringDef, in_force: InForce) -> tuple[str, ...]:
    """What the check's limits want to hear."""
    wanted = [one for key in check.limits for one in in_force.plan.limit_by_key(key).wanted]
    return tuple(wanted) or ("yes",)


def answer_of(check: MonitoringDef, good: bool, in_force: InForce) -> str:
    """A plain good or not, in the check's own words; empty where it has none that says it."""
    wanted = good_answers(check, in_force)
    known = ("yes", "no") if check.answer.kind == "yes_no" else check.answer.choices
    return next((one for one in known if (one in wanted) is good), "")


def _checks(in_force: InForce) -> list[MonitoringDef]:
    return [one for one in in_force.plan.monitoring if set(ABOUT) & set(_quantities(one, in_force))]


def _quantities(check: MonitoringDef, in_force: InForce) -> list[str]:
    return [in_force.plan.limit_by_key(key).quantity for key in check.limits]
