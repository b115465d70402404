"""What ran through a line before a product, and what has to lie between: the wash, and its verification.

The freezer's runs ask here too. A purge takes no allergen away; only a wash does.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Max, Subquery
from django.utils.translation import gettext as _

from plant.hazard_plan.content import MonitoringDef, Plan
from plant.kept_words import kept_word
from plant.process.allergens import Content, undeclared
from records.checks.asking import what_words
from records.checks.models import Reading
from records.checks.queries import governing
from records.flow.choices import WASHED
from records.flow.effective import asked_at_once, standing
from records.flow.models import Movement, Wash
from records.judging.judge import GOOD
from records.judging.models import Verdict
from records.judging.queries import governing as verdicts_of
from records.people.plans import InForce

CHANGEOVER = "changeover"
# What ran longer ago than this is not looked for any more.
LOOKED_BACK = timedelta(days=366)
# Where the plan's checks of a changeover have to be good as well; elsewhere the wash is asked for alone.
VERIFIED_AT = ("filler", "continuous freezer")


def content_of(plan: Plan, product: str, name: str) -> Content:
    """A product as something that goes into another, or stays in a line; the plan says which allergens it has."""
    allergens = next((one.allergens for one in plan.products if one.code == product), ())
    return Content(name, frozenset(allergens))


def declared_by(plan: Plan, product: str) -> tuple[str, ...]:
    """The allergens that a product declares."""
    return next((one.allergens for one in plan.products if one.code == product), ())


def in_words(allergens: Iterable[str]) -> str:
    """Allergens in the reader's language."""
    return ", ".join(kept_word(one) for one in allergens)


def last_wash(place: str, what: str, at: datetime) -> Wash | None:
    """The last wash or sanitizing of a place that had ended by then."""
    rows = standing(Wash.objects.filter(vessel=place, what=what, ended_at__lte=at))
    return rows.order_by("-ended_at", "-number").first()


def ran_since_wash(
    place: str, product: str, at: datetime, in_force: InForce, *, without: int | None = None
) -> list[str]:
    """What ran through a line since its last wash with an allergen that a product does not declare. Two queries."""
    return _ran_since_wash(place, declared_by(in_force.plan, product), at, in_force, without)


def wash_owed(place: str, at: datetime, in_force: InForce) -> list[str]:
    """What ran through a line since its last wash with an allergen that some product of the plan does not declare."""
    sold = [frozenset(one.allergens) for one in in_force.plan.products if one.is_sold]
    common = frozenset.intersection(*sold) if sold else frozenset()
    return _ran_since_wash(place, tuple(sorted(common)), at, in_force, None)


def _ran_since_wash(
    place: str, declared: tuple[str, ...], at: datetime, in_force: InForce, without: int | None
) -> list[str]:
    washed = last_wash(place, WASHED, at)
    before = standing(Movement.objects.filter(via=place, started_at__lt=at)).exclude(number=without or 0)
    if washed is not None:
        before = before.filter(started_at__gte=washed.ended_at)
    rows = before.order_by("started_at").values_list("product", "product_name")
    contents = dict.fromkeys(content_of(in_force.plan, code, name) for code, name in rows)
    found = []
    for one in contents:
        if left := undeclared(declared, [one]):
            words = {"name": one.name, "allergens": in_words(each.allergen for each in left)}
            found.append(_("%(name)s ran since the last wash: %(allergens)s") % words)
    return found


def not_verified(
    place: str, product: str, at: datetime, in_force: InForce, *, without: int | None = None
) -> list[str]:
    """Of the wash after the last product with an allergen that this one does not declare: checks of the plan not good.

    Whatever ran in between and however often the line was washed since: until shown good, it is not. Four queries.
    """
    return _not_verified(place, [declared_by(in_force.plan, product)], at, in_force, without)


def verification_owed(place: str, at: datetime, in_force: InForce) -> list[str]:
    """As not_verified, of every product that the plan sells, in as many queries."""
    sold = dict.fromkeys(tuple(sorted(one.allergens)) for one in in_force.plan.products if one.is_sold)
    return _not_verified(place, list(sold), at, in_force, None)


def verified_by(plan: Plan) -> list[str]:
    """The plan's checks that have to be good after the wash of a changeover, in the reader's language."""
    return [what_words(one) for one in _asked(plan)]


def _asked(plan: Plan) -> list[MonitoringDef]:
    return [one for one in plan.monitoring if one.frequency.event == CHANGEOVER]


def _not_verified(
    place: str, each: Sequence[tuple[str, ...]], at: datetime, in_force: InForce, without: int | None
) -> list[str]:
    """`each`: what a product declares."""
    contents = {one.code: content_of(in_force.plan, one.code, one.name) for one in in_force.plan.products}
    bad = {code for code, one in contents.items() if any(undeclared(declared, [one]) for declared in each)}
    if not bad or not _asked(in_force.plan):
        return []
    rows = Movement.objects.filter(via=place, product__in=bad, started_at__lt=at, started_at__gte=at - LOOKED_BACK)
    last = standing(rows).exclude(number=without or 0).order_by().values_list("product").annotate(Max("started_at"))
    ran = dict(last)
    runs: dict[tuple[str, datetime], dict[str, None]] = {}
    for declared in each:
        mine = [code for code in ran if undeclared(declared, [contents[code]])]
        if mine:
            code = max(mine, key=lambda one: (ran[one], one))
            left = [one.allergen for one in undeclared(declared, [contents[code]])]
            runs.setdefault((code, ran[code]), {}).update(dict.fromkeys(left))
    told = [_Ran(contents[code].name, sorted(left), ran_at) for (code, ran_at), left in runs.items()]
    return _not_shown(place, told, at, in_force)


@dataclass(frozen=True, slots=True)
class _Ran:
    """What was in a place last, with the allergens that are asked about."""

    name: str
    allergens: list[str]
    ran_at: datetime


def not_shown_clean(
    place: str, product: str, content: Content, ran_at: datetime, at: datetime, in_force: InForce
) -> list[str]:
    """The plan's checks of a changeover that are not good since the first wash after a content was in a place.

    Only checks that the plan ties to the event 'changeover' are asked for, at this place or for the whole plant; the
    latest of each decides. Without such a wash nothing is asked here: the wash itself is missing.
    """
    left = undeclared(declared_by(in_force.plan, product), [content])
    told = [_Ran(content.name, [one.allergen for one in left], ran_at)] if left else []
    return _not_shown(place, told, at, in_force)


def _not_shown(place: str, ran: Sequence[_Ran], at: datetime, in_force: InForce) -> list[str]:
    """As not_shown_clean, of several contents at once: three queries, however many they are."""
    asked = _asked(in_force.plan)
    if not ran or not asked:
        return []
    rows = standing(Wash.objects.filter(vessel=place, what=WASHED, ended_at__lte=at)).order_by("ended_at", "number")
    first = {
        f"w{index}": Subquery(rows.filter(ended_at__gt=one.ran_at).values("ended_at")[:1])
        for index, one in enumerate(ran)
    }
    ended = asked_at_once(first)
    washed = [(one, ended[f"w{index}"]) for index, one in enumerate(ran) if ended[f"w{index}"] is not None]
    if not washed:
        return []
    readings = governing(
        Reading.objects.filter(
            monitoring_key__in=[one.key for one in asked],
            subject__in=(place, "", "plant"),
            observed_at__gte=min(since for _one, since in washed),
            observed_at__lte=at,
        )
    )
    verdicts = verdicts_of(Reading.KIND, [one.number for one in readings])
    found = []
    for one, since in washed:
        latest: dict[str, Reading] = {}
        for reading in sorted(readings, key=lambda each: (each.observed_at, each.number)):
            if reading.observed_at >= since:
                latest[reading.monitoring_key] = reading
        good = {key for key, reading in latest.items() if _is_good(reading, verdicts.get(reading.number))}
        found += [_sentence(check, one.name, one.allergens) for check in asked if check.key not in good]
    return list(dict.fromkeys(found))


def _is_good(reading: Reading, verdict: Verdict | None) -> bool:
    return not reading.not_taken and (verdict is None or verdict.outcome in GOOD)


def _sentence(check: MonitoringDef, name: str, allergens: list[str]) -> str:
    words = {"name": name, "allergens": in_words(allergens), "check": what_words(check)}
    return _("%(name)s ran before the wash (%(allergens)s); not shown good since: %(check)s") % words
