"""What a freezer's rows come to at a moment: its state, what is missing, what stands against a draw."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from django.utils.translation import gettext as _

from plant.equipment.models import VesselKind
from plant.hazard_plan.content import MonitoringDef, Plan, VesselDef
from plant.process.allergens import Content
from records.checks.asking import what_words
from records.checks.models import Reading
from records.checks.queries import governing
from records.checks.saying import value_words
from records.flow.choices import SANITIZED, WASHED
from records.flow.effective import standing as standing_flow
from records.flow.finding import SANITATION
from records.flow.findings import control_point
from records.flow.models import Movement
from records.flow.programs import parts_at
from records.freezer_runs.models import (
    CUP,
    DRAW,
    DRAW_BEGUN,
    DRAW_ENDED,
    FED,
    FIRST,
    FIRST_RIGHT,
    HARDENING,
    PURGED,
    FreezerEvent,
)
from records.judging.judge import GOOD
from records.judging.queries import governing as verdicts_of
from records.judging.words import to_operator
from records.labels.sequence import (
    LOOKED_BACK,
    declared_by,
    last_wash,
    not_shown_clean,
    not_verified,
    ran_since_wash,
)
from records.people.plans import InForce
from records.run_rows.models import ENDED, OPENED
from records.run_rows.queries import Run, run_of, standing
from records.washes import state as washes

State = Literal["not drawing", "drawing", "between products", "ended"]
DRAW_QUANTITY, OVERRUN_QUANTITY = "draw temperature", "overrun"
WEIGHT_QUANTITY, HARDENING_QUANTITY = "mass per volume", "time into hardening"
FreezerRun = Run[FreezerEvent]


@dataclass(frozen=True, slots=True)
class Item:
    """One thing wanted before the draw. `point`: the control point it belongs to; `ask`: key of the plan's check."""

    what: str
    good: bool
    said: str
    point: str
    at: datetime | None = None
    ask: str = ""
    reading: int | None = None

    @property
    def sentence(self) -> str:
        """What stands against the draw."""
        return _("%(what)s: %(said)s") % {"what": self.what.rstrip("?"), "said": self.said}


def freezers(plan: Plan) -> list[VesselDef]:
    """The plan's continuous freezers."""
    return [one for one in plan.vessels if one.kind == VesselKind.FREEZER]


def feeders(plan: Plan) -> list[str]:
    """The codes of the plan's ingredient feeders."""
    return [one.code for one in plan.vessels if one.kind == VesselKind.FEEDER]


def state_at(run: FreezerRun, moment: datetime) -> State:
    """What the rows by then say."""
    found: State = "not drawing"
    for one in run.by(moment):
        if one.what == DRAW_BEGUN:
            found = "drawing"
        elif one.what == DRAW_ENDED:
            found = "between products"
        elif one.what == ENDED:
            found = "ended"
    return found


def drawing_at(run: FreezerRun, moment: datetime) -> FreezerEvent | None:
    """The row that began the draw which goes on then."""
    found = None
    for one in run.by(moment):
        if one.what == DRAW_BEGUN:
            found = one
        elif one.what in (DRAW_ENDED, ENDED):
            found = None
    return found


def missing(run: FreezerRun, in_force: InForce) -> list[str]:
    """What a run that has drawn lacks: of its first tubs, its readings, its hardening."""
    begun = run.of(DRAW_BEGUN)
    if not begun:
        return []
    found = []
    for number, draw in enumerate(begun):
        until = begun[number + 1].happened_at if number + 1 < len(begun) else None
        rows = [
            one
            for one in run.events
            if one.happened_at >= draw.happened_at and (until is None or one.happened_at < until)
        ]
        right = {one.about for one in rows if one.what == FIRST_RIGHT}
        kinds = {one.what for one in rows}
        lacking = [_("first tubs: %(what)s right") % {"what": about_words(one)} for one in FIRST if one not in right]
        lacking += [_("draw temperature")] if DRAW not in kinds else []
        lacking += [_("a cup weighed")] if CUP not in kinds else []
        lacking += [_("into hardening")] if HARDENING not in kinds else []
        found += [f"{draw.product_name}: {one}" for one in lacking]
    return found


def about_words(about: str) -> str:
    """What the first tubs are looked at for, in the reader's language."""
    return {"draw temperature": _("draw temperature"), "weight": _("weight"), "lid": _("lid")}.get(about, about)


def check_of(quantity: str, place: str, in_force: InForce) -> MonitoringDef | None:
    """The plan's check at a place whose limit is on a quantity."""
    for one in in_force.plan.monitoring:
        limits = [in_force.plan.limit_by_key(key) for key in one.limits]
        if (place in one.subjects or not one.subjects) and any(limit.quantity == quantity for limit in limits):
            return one
    return None


def sanitation_point(place: str, in_force: InForce) -> str:
    """Where a freezer that was not made ready belongs."""
    return control_point(in_force.plan, SANITATION, place)


def allergen_point(place: str, in_force: InForce) -> str:
    """Where an undeclared allergen belongs: the feeder's allergen control, else the plan's first, else sanitation."""
    kinds = {one.key: one.kind for one in in_force.plan.control_points}
    places = {*feeders(in_force.plan), place}
    watched = [one.control_point for one in in_force.plan.monitoring if places & set(one.subjects)]
    return next((key for key in (*watched, *kinds) if kinds[key] == "allergen"), sanitation_point(place, in_force))


# --- before the draw


def items(run: FreezerRun, product: str, at: datetime, in_force: InForce) -> list[Item]:
    """What is wanted before a draw of a product, with what the records say of it by a moment."""
    found = [_sanitized(run.place, at, in_force), *_looked_at(run, at, in_force), _purged(run, at, in_force)]
    found += feeder_parts(run, at, in_force)
    return found + [
        Item(_("Allergens"), False, sentence, allergen_point(run.place, in_force))
        for sentence in undeclared(run, product, at, in_force)
    ]


def against(run: FreezerRun, product: str, at: datetime, in_force: InForce) -> list[Item]:
    """Of these, what stands against the draw."""
    return [one for one in items(run, product, at, in_force) if not one.good]


def _sanitized(place: str, at: datetime, in_force: InForce) -> Item:
    what, point = _("Barrel sanitized"), sanitation_point(place, in_force)
    washed, sanitized = last_wash(place, WASHED, at), last_wash(place, SANITIZED, at)
    if sanitized is None or washed is None or sanitized.ended_at < washed.ended_at:
        return Item(what, False, _("nothing recorded"), point)
    with_program = [one for one in (washed, sanitized) if washes.programs_at(in_force.plan, place, one.what)]
    for one in washes.judged(with_program, apart=True):
        if why := washes.why_not_proven(one):
            return Item(what, False, washes.unproven_words(one.wash, why, in_force), point)
    valid = in_force.plan.settings.sanitized_valid_h
    words = {"what": sanitized.method, "number": sanitized.number}
    said = _("%(what)s, entry %(number)d") % words
    in_time = at - sanitized.ended_at <= timedelta(hours=valid)
    if not in_time and not _drawn_since(place, sanitized.ended_at, at):
        return Item(what, False, _("longer ago than the %(hours)d h of the plan") % {"hours": valid}, point)
    return Item(what, True, said, point, sanitized.ended_at)


def _drawn_since(place: str, since: datetime | None, at: datetime) -> bool:
    rows = Movement.objects.filter(via=place, started_at__lt=at)
    return standing_flow(rows if since is None else rows.filter(started_at__gte=since)).exists()


def _purged(run: FreezerRun, at: datetime, in_force: InForce) -> Item:
    """Purged since the last draw ended, or since the run was begun."""
    ended = [one for one in run.by(at) if one.what in (DRAW_ENDED, OPENED)]
    since = max(one.happened_at for one in ended)
    done = [one for one in run.by(at) if one.what == PURGED and one.happened_at >= since]
    point = sanitation_point(run.place, in_force)
    if not done:
        return Item(_("Barrel purged"), False, _("nothing recorded"), point)
    said = _("entry %(number)d") % {"number": done[-1].number}
    return Item(_("Barrel purged"), True, said, point, done[-1].happened_at)


def _looked_at(run: FreezerRun, at: datetime, in_force: InForce) -> list[Item]:
    """The plan's checks before use of the freezer, and of the feeder where one was filled in this run."""
    places = [run.place]
    if any(one.what == FED for one in run.by(at)):
        places += feeders(in_force.plan)
    asked = [
        (one, place)
        for one in in_force.plan.monitoring
        for place in places
        if place in one.subjects and one.frequency.kind == "before_use"
    ]
    if not asked:
        return []
    longest = timedelta(minutes=max(one.frequency.valid_min for one, _place in asked))
    rows = governing(
        Reading.objects.filter(
            subject__in=places,
            monitoring_key__in=[one.key for one, _place in asked],
            observed_at__gte=run.first.happened_at - longest,
            observed_at__lte=at,
        )
    )
    verdicts = verdicts_of(Reading.KIND, [one.number for one in rows])
    found = []
    for check, place in asked:
        first = run.first.happened_at - timedelta(minutes=check.frequency.valid_min)
        mine = [
            one
            for one in rows
            if one.monitoring_key == check.key and one.subject == place and one.observed_at >= first
        ]
        last = max(mine, key=lambda one: (one.observed_at, one.number), default=None)
        ask = f"{check.key}|{place}"
        if last is None:
            found.append(Item(what_words(check), False, _("nothing recorded"), check.control_point, ask=ask))
            continue
        verdict = verdicts.get(last.number)
        good = verdict is None or verdict.outcome in GOOD
        said = value_words(last) if good or verdict is None else f"{to_operator(verdict.outcome)}, {value_words(last)}"
        found.append(
            Item(what_words(check), good, said, check.control_point, last.observed_at, ask, last.number)
        )
    return found


def feeder_parts(run: FreezerRun, at: datetime, in_force: InForce) -> list[Item]:
    """Parts of the feeder that a program washes: asked of the first draw with the feeder after a wash of either line.

    They have to have been washed before the feeder was last filled, and since product last met them. A movement through
    the feeder is asked by itself (records.washes.state.about).
    """
    fed = [one for one in run.by(at) if one.what == FED]
    places = [one for one in feeders(in_force.plan) if parts_at(in_force.plan, one)]
    if not fed or not places:
        return []
    met = _met_feeder(run, at)
    found = []
    for place in places:
        washed = [one.ended_at for code in (place, run.place) if (one := last_wash(code, WASHED, at)) is not None]
        since = max(washed, default=None)
        if (met is not None and (since is None or met >= since)) or _drawn_since(place, since, at):
            continue
        known = {place: met} if met is not None else {}
        told = washes.parts_unproven([place], fed[-1].happened_at, in_force, met=known).get(place, [])
        what, point = _("Parts of the feeder when it was filled"), sanitation_point(place, in_force)
        found += [Item(what, False, sentence, point) for _number, sentence in told]
    return found


def _met_feeder(run: FreezerRun, at: datetime) -> datetime | None:
    """Until when product met the feeder before a draw: by the run that filled it last before this one, by this one's
    draws. None where no run filled it before.
    """
    earlier = FreezerEvent.objects.filter(place=run.place, what=FED, happened_at__lte=at).exclude(run=run.number)
    last = standing(earlier).order_by("-happened_at", "-number").first()
    times = [last.happened_at] if last is not None else []
    for one in (run, None if last is None or last.run is None else run_of(FreezerEvent, last.run)):
        fills = [row.happened_at for row in one.by(at) if row.what == FED] if one is not None else []
        if one is None or not fills:
            continue
        times += [
            row.happened_at
            for row in one.by(at)
            if row.what in (DRAW_BEGUN, DRAW_ENDED) and min(fills) <= row.happened_at < at
        ]
    return max(times, default=None)


def undeclared(run: FreezerRun, product: str, at: datetime, in_force: InForce) -> list[str]:
    """Allergens that could be in a product and that it does not declare: what ran before it since the last wash of the
    freezer, what the feeder was filled with since its own, and washes that no check of the plan has shown good since.
    A purge takes no allergen away.
    """
    found = ran_since_wash(run.place, product, at, in_force) or not_verified(run.place, product, at, in_force)
    found += _left_in_feeder(run, product, at, in_force)
    return list(dict.fromkeys(found))


def _left_in_feeder(run: FreezerRun, product: str, at: datetime, in_force: InForce) -> list[str]:
    """Of what the feeder was filled with, in whichever run: since its last wash, or not shown clean since that wash.

    Where the plan names no feeder of its own it is washed with the freezer.
    """
    own = set(declared_by(in_force.plan, product))
    rows = FreezerEvent.objects.filter(place=run.place, what=FED, happened_at__lte=at).exclude(allergens="")
    rows = standing(rows.filter(happened_at__gte=at - LOOKED_BACK))
    found: list[str] = []
    for place in feeders(in_force.plan) or [run.place]:
        washed = last_wash(place, WASHED, at)
        since = rows if washed is None else rows.filter(happened_at__gt=washed.ended_at)
        found += [one for row in since.order_by("happened_at", "number") if (one := not_declared(row, own))]
        if not found and washed is not None:
            newest = rows.order_by("-happened_at", "-number").iterator(chunk_size=100)
            last = next((row for row in newest if not_declared(row, own)), None)
            if last is not None:
                content = Content(f"{last.ingredient} {last.lot_code}", frozenset(last.allergens.split(", ")))
                found += not_shown_clean(place, product, content, last.happened_at, at, in_force)
    return found


def not_declared(row: FreezerEvent, declared: set[str]) -> str:
    """The sentence on an ingredient with an allergen that a product does not declare; empty for none."""
    rest = {one for one in row.allergens.split(", ") if one} - declared
    if not rest:
        return ""
    words = {"name": row.ingredient, "lot": row.lot_code, "allergens": ", ".join(sorted(rest))}
    return _("%(name)s, lot %(lot)s, in the feeder: %(allergens)s") % words
