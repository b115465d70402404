"""What is wrong with a movement, before it begins or once it has happened. It writes nothing."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import Any
from uuid import UUID

from django.utils.translation import gettext as _

from plant.hazard_plan.content import Plan, VesselDef
from plant.process import storage
from plant.process.units import plain
from plant.rework_places import is_rework
from records.flow import disposed, further, joined
from records.flow.choices import SANITIZED, WASHED, is_raw, product_of, vessel_of
from records.flow.clocks import RAW_STORAGE_HOURS
from records.flow.finding import BLEND, BOOK, PASTEURIZATION, SANITATION, SERVICE, STORAGE, Finding
from records.flow.history import History
from records.flow.lines import first_run_since
from records.flow.models import Movement
from records.flow.packing import is_packing
from records.ledger.registry import kinds
from records.people.plans import InForce


def control_point(plan: Plan, topic: str, subject: str) -> str:
    """The plan's control point for a finding; the topic itself where the plan has none of that kind."""
    kinds = {one.key: one.kind for one in plan.control_points}
    watched = [one.control_point for one in plan.monitoring if subject in one.subjects]
    if topic == PASTEURIZATION:
        presses = {one.code for one in plan.vessels if one.kind == "pasteurizer"}
        watched = [one.control_point for one in plan.monitoring if presses & set(one.subjects)]
        wanted: tuple[str, ...] = ("ccp",)
    else:
        wanted = {SANITATION: ("sanitation",), STORAGE: ("ccp", "prerequisite")}.get(topic, ())
    for kind in wanted:
        of_kind = [key for key, found in kinds.items() if found == kind]
        for key in (*watched, *(of_kind if topic != STORAGE else ())):
            if key in of_kind:
                return str(key)
    return topic


def about_movement(
    row: Movement,
    ended_at: datetime | None,
    before: History,
    in_force: InForce,
    held: dict[UUID, list[str]],
) -> list[Finding]:
    """What is wrong with a movement, by the history without it, for the records: in the plant's language.

    `held`: lots on hold, with the reasons.
    """
    with in_force.speaking():
        return _about(row, ended_at, before, in_force, held)


def bars(row: Movement, before: History, in_force: InForce, held: dict[UUID, list[str]]) -> list[str]:
    """What refuses a movement that has not begun, in the language of the person who is refused."""
    return [one.sentence for one in _about(row, None, before, in_force, held) if one.bars]


def _about(
    row: Movement, ended_at: datetime | None, before: History, in_force: InForce, held: dict[UUID, list[str]]
) -> list[Finding]:
    found = [*_service(row, before, in_force), *_holds(row, held, before, in_force), *_raw(row, in_force)]
    found += [*_clean(row, before, in_force), *_long_stored(row, before, in_force), *_untested(row, before, in_force)]
    found += disposed.about(row, before, in_force)
    found += joined.of_movement(row, ended_at, before, in_force)
    return found + further.found(row, before, in_force)


def _service(row: Movement, before: History, in_force: InForce) -> list[Finding]:
    found = []
    for code in dict.fromkeys((row.source, row.via, row.target)):
        said = [one for one in before.services if one.vessel == code and one.observed_at <= row.started_at]
        last = max(said, key=lambda one: (one.observed_at, one.number), default=None)
        if code and last is not None and last.out:
            words = {"vessel": in_force.names.get(code, code), "why": last.reason}
            sentence = _("%(vessel)s is out of service: %(why)s") % words
            found.append(Finding(SERVICE, code, sentence, "legal rule", bars=True, holds=True))
    return found


def _holds(row: Movement, held: dict[UUID, list[str]], before: History, in_force: InForce) -> list[Finding]:
    found = []
    for code in (row.source, row.target):
        contents = before.book.contents(code, row.started_at) if code else None
        lot = before.lot_at(code, row.started_at) if code else None
        if contents is not None and contents.holds and lot in held:
            words = {"vessel": in_force.names.get(code, code), "why": held[lot][0]}
            sentence = _("What %(vessel)s holds is on hold: %(why)s") % words
            found.append(Finding("hold", code, sentence, "legal rule", bars=True, holds=code == row.source))
    return found


def _raw(row: Movement, in_force: InForce) -> list[Finding]:
    """Product that no pasteurizer has treated must not enter what holds pasteurized product, nor the packs."""
    target = vessel_of(in_force, row.target)
    if not _is_raw(row, in_force):
        return []
    if target is not None and target.stage in ("pasteurized", "frozen"):
        sentence = _("Raw product into %(vessel)s, which holds pasteurized product") % {"vessel": target.name}
    elif is_packing(row.target, row.target_name):
        sentence = _("Raw product packed: it did not go through a pasteurizer")
    else:
        return []
    return [
        Finding(
            PASTEURIZATION,
            row.target or row.source,
            sentence,
            "legal rule",
            bars=True,
            holds=True,
            bars_release="pasteurization",
        )
    ]


def blended_at(plan: Plan) -> frozenset[str]:
    """The vessels whose batches the plan tests: where the plan has a batch checked by a number, at that step."""
    points = {
        one.control_point for one in plan.monitoring if one.frequency.event == "batch" and one.answer.kind == "number"
    }
    steps = {one.step for one in plan.control_points if one.key in points}
    return frozenset(place for step in plan.steps if step.key in steps for place in step.places)


def _untested(row: Movement, before: History, in_force: InForce) -> list[Finding]:
    """A blend to the press whose fat and solids nobody tested since the last of it went in.

    Its fat decides which row of the pasteurization table it needs (21 CFR 1240.61(b), footnote 1). The test is a later
    feature's record, found by its kind.
    """
    via = vessel_of(in_force, row.via)
    if via is None or via.kind != "pasteurizer" or row.source not in blended_at(in_force.plan):
        return []
    since = before.book.contents(row.source, row.started_at).since
    fills = [one for one in before.into(row.source) if one.row.started_at < row.started_at]
    if since is None or len([one for one in fills if one.row.started_at >= since]) < 2:
        return []
    tests: Any = kinds()["blend test"]._default_manager
    replaced = tests.exclude(amends=None).values("amends")
    last = max(min(one.ended_at or one.row.started_at, row.started_at) for one in fills)
    standing = tests.filter(place=row.source, void=False).exclude(number__in=replaced)
    if standing.filter(observed_at__gte=last, observed_at__lte=row.started_at).exists():
        return []
    words = {"vessel": in_force.names.get(row.source, row.source)}
    sentence = _(
        "%(vessel)s: no fat and solids test of the blend since the last of it went in;"
        " its fat decides how it is pasteurized (21 CFR 1240.61(b))"
    )
    return [Finding(BLEND, row.source, sentence % words, "legal rule", bars=True, holds=True)]


def _is_raw(row: Movement, in_force: InForce) -> bool:
    source, via = vessel_of(in_force, row.source), vessel_of(in_force, row.via)
    if (via is not None and via.kind == "pasteurizer") or is_rework(row.source):
        return False
    if source is not None:
        return source.stage == "raw"
    return is_raw(product_of(in_force, row.product), vessel_of(in_force, row.target))


def _clean(row: Movement, before: History, in_force: InForce) -> list[Finding]:
    """First product goes only into what was washed, then sanitized within the plan's hours."""
    found = []
    target, via = vessel_of(in_force, row.target), vessel_of(in_force, row.via)
    if target is not None and target.storage_class != "none":
        contents = before.book.contents(target.code, row.started_at)
        if not contents.holds and not _joins(row, before):
            washed, sanitized = before.clean_since(target.code, row.started_at)
            why = _why_not_ready(target, row.started_at, washed, sanitized, in_force)
            found += [_unclean(target, why)] if why else []
    if via is not None and (why := _line_why(via.code, before, row.started_at, in_force)[0]):
        found.append(_unclean(via, why))
    return found


def line_not_ready(code: str, before: History, moment: datetime, in_force: InForce) -> str:
    """Why a line is not washed and sanitized for its first product at a moment; empty where nothing says so.

    Between the first product after a wash and the next wash it is asked for none until the day of that product is over:
    each day of use it is washed (7 Pa. Code 59.212(a), a state rule that mirrors the model ordinance).
    """
    why, first = _line_why(code, before, moment, in_force)
    return why or (_unproven(code, before, moment, in_force) if first else "")


def _line_why(code: str, before: History, moment: datetime, in_force: InForce) -> tuple[str, bool]:
    """As line_not_ready by the times alone, and whether product would be the first after a wash."""
    via = vessel_of(in_force, code)
    if via is None or via.storage_class == "none":
        return "", False
    washed, sanitized = _line_ready(code, before, moment)
    used = first_run_since(before, code, washed)
    if washed is not None and used is not None and used < moment:
        return _not_washed_that_day(via, used, before, moment, in_force), False
    return _why_not_ready(via, moment, washed, sanitized, in_force), True


def vessel_not_ready(code: str, before: History, moment: datetime, in_force: InForce) -> str:
    """Why a vessel may take no first product at a moment; empty where nothing says so, or where it holds product."""
    vessel = vessel_of(in_force, code)
    if vessel is None or vessel.storage_class == "none" or before.book.contents(code, moment).holds:
        return ""
    washed, sanitized = before.clean_since(code, moment)
    return _why_not_ready(vessel, moment, washed, sanitized, in_force) or _unproven(code, before, moment, in_force)


def _unproven(code: str, before: History, moment: datetime, in_force: InForce) -> str:
    """A wash or sanitizing that proves nothing counts for none."""
    told = further.unproven_washes([code], before, moment, in_force).get(code, [])
    return told[0][1] if told else ""


def _not_washed_that_day(
    line: VesselDef, used: datetime, before: History, moment: datetime, in_force: InForce
) -> str:
    """A line that was used on an earlier plant day and not washed since; what still runs through it ends first."""
    clock = storage.daily_wash_clock(used, moment, in_force.calendar)
    if not clock.past(moment) or any(one.row.via == line.code for one in before.running(moment)):
        return ""
    words = {"line": line.name, "day": in_force.calendar.plant_day(used).isoformat(), "clause": clock.clause}
    return _("%(line)s ran on %(day)s and was not washed since: each day of use it is (%(clause)s)") % words


def _joins(row: Movement, before: History) -> bool:
    """Two fills that begin at one moment are one first product."""
    return any(one.row.started_at == row.started_at and one.row.number != row.number for one in before.into(row.target))


def _line_ready(code: str, before: History, moment: datetime) -> tuple[datetime | None, datetime | None]:
    washed = max((one.ended_at for one in before.washes_of(code, WASHED) if one.ended_at <= moment), default=None)
    sanitized = max((one.ended_at for one in before.washes_of(code, SANITIZED) if one.ended_at <= moment), default=None)
    return washed, sanitized if washed and sanitized and sanitized >= washed else None


def _why_not_ready(
    vessel: VesselDef,
    moment: datetime,
    washed: datetime | None,
    sanitized: datetime | None,
    in_force: InForce,
) -> str:
    if washed is None:
        return _("%(vessel)s was not washed before this product: nothing recorded says so") % {"vessel": vessel.name}
    if sanitized is None:
        return _("%(vessel)s was washed, and nothing recorded says that it was sanitized") % {"vessel": vessel.name}
    valid = timedelta(hours=in_force.plan.settings.sanitized_valid_h)
    if moment - sanitized > valid:
        words = {
            "vessel": vessel.name,
            "hours": int((moment - sanitized).total_seconds() // 3600),
            "valid": in_force.plan.settings.sanitized_valid_h,
        }
        return _("%(vessel)s was sanitized %(hours)d h before; the plan allows %(valid)d h") % words
    return ""


def _unclean(vessel: VesselDef, why: str) -> Finding:
    touches = vessel.stage in ("pasteurized", "frozen", "press")
    return Finding(SANITATION, vessel.code, why, "legal rule", bars=True, holds=touches)


def _long_stored(row: Movement, before: History, in_force: InForce) -> list[Finding]:
    """Raw storage used past its 72 hours (7 Pa. Code 59.212(a)). Emptying it is what has to be done: no bar."""
    found = []
    for code in (row.source, row.target):
        vessel = vessel_of(in_force, code)
        if vessel is None or vessel.storage_class != "raw storage":
            continue
        first = before.book.contents(code, row.started_at).first_product_at
        if first is None:
            continue
        if storage.raw_storage_clock(first, row.started_at, RAW_STORAGE_HOURS).past(row.started_at):
            hours = int((row.started_at - first).total_seconds() // 3600)
            words = {"vessel": vessel.name, "hours": hours}
            sentence = _("%(vessel)s: %(hours)d h since the first product after its wash; 72 h is the most") % words
            found.append(Finding(STORAGE, code, sentence, "legal rule", weight="legal"))
    return found


def about_book(
    after: History, before: History, in_force: InForce, codes: tuple[str, ...], since: datetime, moment: datetime
) -> list[Finding]:
    """More than a vessel holds, or more drawn than the book held: kept, said, and past the plan's share a deviation.

    The first at any time from `since` on, where it is more than the book had `before`; the second at `moment`.
    """
    found = []
    for code in dict.fromkeys(codes):
        vessel = vessel_of(in_force, code)
        if vessel is None or not vessel.capacity:
            continue
        capacity = Fraction(Decimal(vessel.capacity))
        large = capacity * Fraction(Decimal(in_force.plan.settings.large_book_difference)) / 100
        with in_force.speaking():
            over = _over(after, before, vessel, since, capacity, large)
            found += over + _below(after, vessel, moment, large)
    return found


def too_full(after: History, before: History, in_force: InForce, code: str, since: datetime) -> list[str]:
    """What is asked once more before it is kept: the vessel would hold more than it can. In the reader's language."""
    vessel = vessel_of(in_force, code)
    if vessel is None or not vessel.capacity:
        return []
    quantity = _more(after, before, vessel, since)
    if quantity is None:
        return []
    words = {
        "vessel": vessel.name,
        "book": plain(quantity, 1),
        "capacity": plain(Decimal(vessel.capacity)),
        "unit": vessel.unit,
    }
    sentence = _(
        "With this %(vessel)s would hold %(book)s %(unit)s by the book; it can hold %(capacity)s %(unit)s. Look again."
    )
    return [sentence % words]


def _over(
    after: History, before: History, vessel: VesselDef, since: datetime, capacity: Fraction, large: Fraction
) -> list[Finding]:
    quantity = _more(after, before, vessel, since)
    if quantity is None:
        return []
    words = {
        "vessel": vessel.name,
        "book": plain(quantity, 1),
        "capacity": plain(capacity, 1),
        "unit": vessel.unit,
    }
    sentence = _("%(vessel)s: the book says %(book)s %(unit)s, it holds %(capacity)s %(unit)s") % words
    return [Finding(BOOK, vessel.code, sentence, "book", "quality", records=quantity - capacity > large)]


def _more(after: History, before: History, vessel: VesselDef, since: datetime) -> Fraction | None:
    """The most that the vessel comes to hold, where it is more than it can and more than the book had before."""
    quantity, known = (_most(one, vessel.code, since) for one in (after, before))
    if quantity is None or quantity <= Fraction(Decimal(vessel.capacity)):
        return None
    return quantity if known is None or quantity > known else None


def _most(history: History, code: str, since: datetime) -> Fraction | None:
    told = history.book.vessels.get(code)
    return told.most_since(since) if told is not None else None


def _below(after: History, vessel: VesselDef, moment: datetime, large: Fraction) -> list[Finding]:
    discrepancies = after.book.vessels[vessel.code].discrepancies if vessel.code in after.book.vessels else ()
    found = []
    for one in discrepancies:
        if one.kind == "below zero" and one.at == moment and one.amount is not None:
            words = {"vessel": vessel.name, "more": plain(one.amount, 1), "unit": vessel.unit}
            sentence = _("%(vessel)s: %(more)s %(unit)s more were drawn than the book held") % words
            found.append(Finding(BOOK, vessel.code, sentence, "book", "quality", records=one.amount > large))
    return found
