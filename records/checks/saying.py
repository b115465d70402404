"""Readings, due times and gauges in the words and drawings of the round's pages."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from plant.hazard_plan.content import LimitDef
from plant.kept_words import kept_word
from plant.picture_words import gauge_words
from plant.pictures.gauge import gauge_svg
from plant.process.units import FAHRENHEIT, UnitError, exact
from records.checks.asking import Asking, in_unit
from records.checks.models import Reading
from records.checks.queries import last_readings
from records.judging import queries as verdicts

# A scale shows at least so much on the good side of a single limit, in the limit's unit; elsewhere a part of the limit.
SHOWN = {FAHRENHEIT: 8.0, "°C": 4.5}


def value_words(reading: Reading) -> str:
    """What was answered: '38.4 °F', '161.5 and 161.0 °F', 'yes', 'all 20 places: ok', 'not taken'."""
    if reading.not_taken:
        return _("not taken")
    unit = f" {reading.unit}" if reading.unit and reading.value is not None else ""
    if reading.answer_kind == "pair":
        return _("%(one)s and %(two)s%(unit)s") % {"one": reading.typed, "two": reading.typed_second, "unit": unit}
    if reading.answer_kind == "places":
        return places_words(reading.places)
    if reading.answer_kind == "photo" and reading.file:
        return _("photo")
    if reading.answer_kind == "yes_no":
        return {"yes": _("yes"), "no": _("no")}.get(reading.typed, reading.typed)
    typed = reading.typed if len(reading.typed) <= 60 else reading.typed[:59] + "…"
    return (typed or reading.note[:60]) + unit


def places_words(places: dict[str, str]) -> str:
    """'all 20 places: ok', or how many of each answer and where the rarer ones are."""
    groups: dict[str, list[str]] = {}
    for place, answer in places.items():
        groups.setdefault(answer, []).append(place)
    if len(groups) == 1:
        ((answer, found),) = groups.items()
        words = ngettext("the one place: %(answer)s", "all %(count)s places: %(answer)s", len(found))
        return words % {"count": len(found), "answer": answer}
    said = []
    for answer, found in sorted(groups.items(), key=lambda one: len(one[1])):
        where = ", ".join(found) if len(found) <= 6 else ngettext("%d place", "%d places", len(found)) % len(found)
        said.append(f"{answer}: {where}")
    return "; ".join(said)


def since_due(asking: Asking, now: datetime) -> str:
    """'due 17:00, 6 min past', 'due 17:00', 'late since 17:30'."""
    if asking.due_at is None:
        return _("asked for by nobody")
    local = asking.in_force.calendar.local
    due = clock_words(local(asking.due_at), local(now))
    check = asking.check
    if check is None:
        return _("the plan in force asks for no such check at %(due)s") % {"due": due}
    if check.state == "late":
        since = clock_words(local(check.due.late_after), local(now))
        return _("due %(due)s, late since %(since)s") % {"due": due, "since": since}
    minutes = int((now - asking.due_at).total_seconds() // 60)
    if check.state == "due" and minutes > 0:
        return _("due %(due)s, %(minutes)s min past") % {"due": due, "minutes": minutes}
    return _("due %(due)s") % {"due": due}


def clock_words(moment: datetime, today: datetime) -> str:
    """'17:00' today, '03-02 17:00' on another day."""
    return moment.strftime("%H:%M" if moment.date() == today.date() else "%m-%d %H:%M")


def gauge(
    asking: Asking, product_class: str, before: datetime, new: Reading | None = None, outcome: str = ""
) -> SafeString | None:
    """The limit gauge with the last three readings before a moment; `new` is one that is saved. None: no number."""
    limits = [one for one in asking.limits(product_class) if one.low or one.high or one.operating_low]
    if asking.kind not in ("number", "pair", "count") or not limits or len({one.unit for one in limits}) > 1:
        return None
    unit = limits[0].unit
    last = list(reversed(last_readings(asking.monitoring.key, asking.subject, before)))
    outcomes = verdicts.governing(Reading.KIND, [one.number for one in last])
    local = asking.in_force.calendar.local
    dots = [
        (value, clock_words(local(one.observed_at), local(before)), outcomes[one.number].outcome)
        for one in last
        if one.number in outcomes and (value := in_unit(one, unit)) is not None
    ]
    shown = in_unit(new, unit) if new is not None else None
    bounds = _bounds(limits)
    values = [value for value, _when, _outcome in dots]
    low, high = _scale(bounds, values if shown is None else [*values, shown], unit)
    return mark_safe(
        gauge_svg(low, high, *bounds, dots, unit, shown, 380, gauge_words(), new_outcome=outcome or None)
    )


def _bounds(limits: Sequence[LimitDef]) -> tuple[float | None, float | None, float | None, float | None]:
    """Of several limits the tightest on each side: low, high, act below, act above."""

    def tightest(texts: list[str], inner: bool) -> float | None:
        numbers = [float(text) for text in texts if text]
        return None if not numbers else (max(numbers) if inner else min(numbers))

    return (
        tightest([one.low for one in limits], True),
        tightest([one.high for one in limits], False),
        tightest([one.operating_low for one in limits], True),
        tightest([one.operating_high for one in limits], False),
    )


def _scale(bounds: tuple[float | None, ...], values: Sequence[float], unit: str) -> tuple[float, float]:
    """From where to where the gauge goes: limits and readings with room, but no single slip stretches it away."""
    known = [one for one in bounds if one is not None]
    low_limit, high_limit = bounds[0] if bounds[0] is not None else bounds[2], bounds[1] or bounds[3]
    base = SHOWN.get(unit) or max(abs(max(known, key=abs)) * 0.1, max(known) - min(known), 1.0)
    low, high = min(known), max(known)
    if low_limit is None:
        low = min(low, high - base)
    if high_limit is None:
        high = max(high, low + base)
    reach = 1.5 * max(high - low, base)
    near = [one for one in values if low - reach <= one <= high + reach]
    low, high = min([low, *near]), max([high, *near])
    room = 0.15 * (high - low) or base
    return low - room, high + room


def limit_words(limit: LimitDef) -> str:
    """'45 °F or below', '161 °F or above', 'yes'."""
    if limit.low and limit.high:
        return _("%(low)s to %(high)s %(unit)s") % {"low": limit.low, "high": limit.high, "unit": limit.unit}
    if limit.high:
        return _("%(high)s %(unit)s or below") % {"high": limit.high, "unit": limit.unit}
    if limit.low:
        return _("%(low)s %(unit)s or above") % {"low": limit.low, "unit": limit.unit}
    return _(" or ").join(kept_word(one) for one in limit.wanted)


def converted(value: Decimal, unit: str, to: str) -> str:
    """A value in the other scale, for reading only: one decimal."""
    try:
        return f"{float(exact(value, unit, to)):.1f} {to}"
    except UnitError:
        return ""
