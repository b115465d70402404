"""What is wrong with product through a line as far as allergens, clearance and packaging go. It writes nothing."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.utils.translation import gettext as _

from plant.hazard_plan.content import Plan
from plant.process.allergens import undeclared
from records.flow.choices import vessel_of
from records.flow.finding import SANITATION, Finding
from records.flow.findings import control_point
from records.flow.history import History
from records.flow.models import Movement
from records.flow.packing import is_packing
from records.labels import queries
from records.labels.contents import contents_of
from records.labels.models import LineClearance
from records.labels.sequence import VERIFIED_AT, declared_by, in_words, not_verified, ran_since_wash
from records.labels.words import kind_words
from records.people.plans import InForce

LABEL, CONTACT = "label", "contact"
FEEDER = "ingredient feeder"


def point_of(plan: Plan, about: str, place: str) -> str:
    """The plan's allergen control for labels or for contact: the one that a check at the place, or of it, watches."""
    kinds = {one.key: one.kind for one in plan.control_points}
    event = "label roll" if about == LABEL else "changeover"
    watched = [one.control_point for one in plan.monitoring if one.frequency.event == event]
    if about == LABEL:
        watched += [one.control_point for one in plan.monitoring if place in one.subjects]
    found = next((key for key in (*watched, *kinds) if kinds.get(key) == "allergen"), "")
    return found or control_point(plan, SANITATION, place)


def about(row: Movement, before: History, in_force: InForce) -> list[Finding]:
    """As records.flow.further asks: what ran before, what is in it, whether the line was cleared, what is on it."""
    found = []
    if row.via:
        found += _after_another(row, in_force)
    if is_packing(row.target, row.target_name):
        found += _contents(row, before, in_force)
    return [*found, *on_the_line_of(row, in_force).values()]


def on_the_line_of(row: Movement, in_force: InForce) -> dict[str, Finding]:
    """What is wrong with the line that a movement runs through, each by what it is about: its clearance, each roll."""
    if not queries.is_filling_line(in_force.plan, row.via):
        return {}
    found = _rolls(row, in_force)
    for one in _not_cleared(row, in_force):
        found["clearance"] = one
    return found


def _finding(about: str, row: Movement, sentence: str, in_force: InForce) -> Finding:
    point = point_of(in_force.plan, about, row.via or row.source)
    return Finding(point, row.via or row.source, sentence, "legal rule", bars=True, holds=True)


def _after_another(row: Movement, in_force: InForce) -> list[Finding]:
    """An allergen that ran before: washed, and the wash verified, before a product that does not declare it."""
    line = vessel_of(in_force, row.via)
    kind = line.kind if line is not None else next(
        (one.kind.lower() for one in in_force.plan.equipment if one.code == row.via), ""
    )
    if kind == FEEDER:
        return []  # what was filled into it is asked by lot, in the freezer's run
    without = row.number or row.amends
    since = ran_since_wash(row.via, row.product, row.started_at, in_force, without=without)
    if not since and kind in VERIFIED_AT:
        since = not_verified(row.via, row.product, row.started_at, in_force, without=without)
    name = in_force.names.get(row.via, row.via)
    return [
        _finding(CONTACT, row, _("%(line)s: %(what)s") % {"line": name, "what": one}, in_force) for one in since
    ]


def _contents(row: Movement, before: History, in_force: InForce) -> list[Finding]:
    """Packed with an allergen that its label does not declare: through mixing and rework, however far back."""
    lot = before.lot_at(row.source, row.started_at) if row.source else None
    contents = contents_of(row.source, lot, row.product, row.started_at, in_force)
    found = []
    for one in undeclared(declared_by(in_force.plan, row.product), contents):
        words = {
            "product": row.product_name, "allergen": in_words([one.allergen]), "names": ", ".join(one.brought_by)
        }  # fmt: skip
        sentence = _("%(product)s does not declare %(allergen)s, which came with: %(names)s") % words
        found.append(_finding(LABEL, row, sentence, in_force))
    return found


def _not_cleared(row: Movement, in_force: InForce) -> list[Finding]:
    hours = in_force.plan.settings.line_clearance_h
    if not hours or not is_packing(row.target, row.target_name):
        return []
    last = queries.last_through(row.via, row.started_at, without=row.number or row.amends)
    if last is not None and last.product == row.product:
        return []
    why = why_not_clear(row.via, row.product, row.started_at, last, in_force)
    return [_finding(LABEL, row, why, in_force)] if why else []


def why_not_clear(place: str, product: str, at: datetime, last: Movement | None, in_force: InForce) -> str:
    """Why a line does not count as cleared for a product at a moment; empty where a clearance and its check say so."""
    cleared = queries.last_clearance(place, product, at)
    name = in_force.names.get(place, place)
    if cleared is None or (last is not None and cleared.observed_at < last.started_at):
        words = {"line": name, "before": last.product_name if last is not None else _("what ran before")}
        return _("%(line)s: no clearance of the line since %(before)s is recorded") % words
    hours = in_force.plan.settings.line_clearance_h
    if hours and at - cleared.observed_at > timedelta(hours=hours):
        words = {"line": name, "number": str(cleared.number), "hours": str(hours)}
        return _("%(line)s: clearance %(number)s is longer ago than the %(hours)s h of the plan") % words
    return _not_agreed(cleared, at, name)


def _not_agreed(cleared: LineClearance, at: datetime, name: str) -> str:
    words = {"line": name, "number": cleared.number}
    if not cleared.clear:
        return _("%(line)s: by clearance %(number)d something of the last product is still there") % words
    check = queries.last_check(cleared, at)
    if check is None:
        return _("%(line)s: clearance %(number)d has no second person's check") % words
    if not check.agrees:
        return _("%(line)s: the second person did not find it clear (clearance %(number)d)") % words
    return ""


def _rolls(row: Movement, in_force: InForce) -> dict[str, Finding]:
    """Rolls and sleeves on the line that are printed for another product, by their kind and code."""
    found = {}
    for one in queries.on_the_line(row.via, row.started_at):
        if one.printed != row.product:
            words = {
                "line": one.place_name, "kind": kind_words(one.kind), "code": one.roll_code,
                "printed": one.printed_name, "product": row.product_name,
            }  # fmt: skip
            sentence = _("%(line)s: %(kind)s %(code)s on the line is printed for %(printed)s, not %(product)s") % words
            found[f"{one.kind} {one.roll_code}"] = _finding(LABEL, row, sentence, in_force)
    return found
