"""What stands between a press and product: its start-up checks as they were answered, seals, tests, the set-up.

Nothing here gives permission: an empty list says that nothing recorded stands against it. The list is that of the
plan's own checks before use, so another plan asks other things.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.urls import reverse
from django.utils.translation import gettext as _

from plant.hazard_plan.content import MonitoringDef, SetUpDef
from plant.process.limits import Outcome
from records.checks.asking import KEY_TIME, what_words
from records.checks.models import Reading
from records.checks.queries import governing
from records.checks.saying import value_words
from records.flow.choices import product_of
from records.flow.common import history_at
from records.flow.findings import line_not_ready
from records.flow.pages import with_query
from records.judging.judge import GOOD
from records.judging.models import Verdict
from records.judging.queries import governing as verdicts_of
from records.judging.words import to_operator
from records.people.plans import InForce
from records.runs.queries import Run
from records.workshop.consequences import seal_point
from records.workshop.standing import known_against, not_in_the_book

NOT_RECORDED = "nothing recorded"


@dataclass(frozen=True, slots=True)
class Item:
    """One thing asked before product. `outcome`: a verdict's, or NOT_RECORDED; `key`: of the plan's check.

    `page`: where what is no check of the plan is seen to.
    """

    key: str
    what: str
    outcome: str
    said: str
    control_point: str
    reading: int | None = None
    at: datetime | None = None
    page: str = ""

    @property
    def is_good(self) -> bool:
        """Whether nothing stands against product by this."""
        return self.outcome in GOOD

    @property
    def word(self) -> str:
        """The state in words."""
        return _("nothing recorded") if self.outcome == NOT_RECORDED else to_operator(self.outcome)

    @property
    def sentence(self) -> str:
        """What stands against product, for a refusal or a deviation."""
        if not self.key:
            return self.what
        words = {"what": self.what.rstrip("?"), "word": self.word, "said": self.said}
        return _("%(what)s: %(word)s, %(said)s") % words if self.said else _("%(what)s: %(word)s") % words


def items(run: Run, at: datetime, in_force: InForce) -> list[Item]:
    """Every start-up check of the plan at this press with its last answer by `at`, then what else stands against it.

    A check at the first of a run (cut-in, cut-out, both thermometers) is read on the water, by its plan's early
    minutes. Until it was read in limits on this set-up it stands against product. The minutes that the plan leaves it
    after product only say when it is missed.
    """
    checks = start_checks(run.place, in_force)
    since = run.first.happened_at
    found = _answers(checks, run.place, since, at, in_force)
    point = control_point(run.place, in_force)
    found += read_since(run, run.set_up_at(at).happened_at, at, in_force)
    bars = known_against(run.place, run.set_up_at(at).set_up, at, in_force)
    workshop = reverse("records:workshop-place", args=[run.place])
    found += [barred(sentence, point, workshop) for sentence in bars]
    return found + _set_up(run, at, point, in_force)


def barred(sentence: str, point: str = "", page: str = "") -> Item:
    """What stands against product and is no check of the plan."""
    return Item("", sentence, Outcome.NOT_PROVEN.value, "", point, page=page)


def against(run: Run, at: datetime, in_force: InForce) -> list[Item]:
    """Of these, what stands against product."""
    return [one for one in items(run, at, in_force) if not one.is_good]


def unread(items: list[Item]) -> bool:
    """Whether a check of the plan among these was not read."""
    return any(one.key and one.outcome == NOT_RECORDED for one in items)


def not_clean(run: Run, at: datetime, in_force: InForce) -> str:
    """Why the press is not washed and sanitized for its first product, by the washes recorded; empty where it is.

    The movement itself finds the same, and what follows from it, once product flows.
    """
    return line_not_ready(run.place, history_at(in_force, at, [run.place]), at, in_force)


def answer_page(one: Item, place: str, now: datetime, back: str = "") -> str:
    """The page on which a check of the plan is answered now, and goes `back` to; of what is no check, its own page."""
    if not one.key:
        return one.page
    page = reverse("records:round-check", kwargs={"key": f"{one.key}|{place}||{now.strftime(KEY_TIME)}"})
    return with_query(page, next=back)


def due_page(key: str, back: str) -> str:
    """The page on which a due check is answered, and goes `back` to."""
    return with_query(reverse("records:round-check", kwargs={"key": key}), next=back)


def unknown(run: Run, at: datetime, in_force: InForce) -> list[str]:
    """What the book has no record of, seals and tests: it bars nothing by itself, because the papers may have it."""
    return not_in_the_book(run.place, run.set_up_at(at).set_up, at, in_force)


def start_checks(place: str, in_force: InForce) -> list[MonitoringDef]:
    """The plan's checks before use of a press."""
    return [
        one for one in in_force.plan.monitoring if place in one.subjects and one.frequency.kind == "before_use"
    ]


def first_checks(place: str, in_force: InForce) -> list[MonitoringDef]:
    """The plan's checks at the first of a run: cut-in, cut-out, both thermometers, the holding time of record."""
    return [
        one
        for one in in_force.plan.monitoring
        if place in one.subjects and one.frequency.kind == "run_ends" and one.frequency.first
    ]


def gates(place: str, at: datetime, in_force: InForce) -> list[Item]:
    """The plan's checks before use at any place with their last answer that still counts at a moment. Three queries."""
    return _answers(start_checks(place, in_force), place, at, at, in_force)


def answered_since(
    checks: list[MonitoringDef], place: str, since: datetime, at: datetime, in_force: InForce
) -> list[Item]:
    """These checks of a place with their last answer since a moment. Three queries."""
    return _answers(checks, place, since, at, in_force, valid=False)


def read_since(run: Run, since: datetime, at: datetime, in_force: InForce) -> list[Item]:
    """The checks at the first of a run, answered or not since a moment: forward flow, or a change of set-up."""
    return _answers(first_checks(run.place, in_force), run.place, since, at, in_force, valid=False)


def read_during(run: Run, at: datetime, in_force: InForce) -> list[Item]:
    """Every reading that stands of the checks that the plan asks while the run is on, in order. Two queries."""
    checks = {
        one.key: one
        for one in in_force.plan.monitoring
        if run.place in one.subjects and one.frequency.kind == "during_run"
    }
    rows = governing(
        Reading.objects.filter(
            subject=run.place, monitoring_key__in=list(checks),
            observed_at__gte=run.first.happened_at, observed_at__lte=run.ended_at or at,
        )
    )  # fmt: skip
    verdicts = verdicts_of(Reading.KIND, [one.number for one in rows])
    return [
        _item(checks[one.monitoring_key], one, verdicts.get(one.number))
        for one in sorted(rows, key=lambda one: (one.observed_at, one.number))
    ]


def through_its_minute(at: datetime) -> datetime:
    """A form's time is typed to the minute: what was read in that minute may have come before it."""
    return at if at.second or at.microsecond else at + timedelta(seconds=60) - timedelta(microseconds=1)


def _item(check: MonitoringDef, row: Reading, verdict: Verdict | None) -> Item:
    outcome = verdict.outcome if verdict is not None else Outcome.MET.value
    said = value_words(row)
    return Item(check.key, what_words(check), outcome, said, check.control_point, row.number, row.observed_at)


def _answers(
    checks: list[MonitoringDef], place: str, since: datetime, at: datetime, in_force: InForce, *, valid: bool = True
) -> list[Item]:
    if not checks:
        return []
    valid_for = {one.key: timedelta(minutes=one.frequency.valid_min if valid else 0) for one in checks}
    first = since - max(valid_for.values())
    until = through_its_minute(at)
    rows = governing(
        Reading.objects.filter(
            subject=place, monitoring_key__in=list(valid_for), observed_at__gte=first, observed_at__lte=until
        )
    )
    verdicts = verdicts_of(Reading.KIND, [one.number for one in rows])
    found = []
    for check in checks:
        mine = [
            one
            for one in rows
            if one.monitoring_key == check.key and one.observed_at >= since - valid_for[check.key]
        ]
        last = max(mine, key=lambda one: (one.observed_at, one.number), default=None)
        if last is None:
            found.append(Item(check.key, what_words(check), NOT_RECORDED, "", check.control_point))
            continue
        found.append(_item(check, last, verdicts.get(last.number)))
    return found


def _set_up(run: Run, at: datetime, point: str, in_force: InForce) -> list[Item]:
    """A product runs only on a set-up that covers its class."""
    row = run.set_up_at(at)
    product = run.first.product_class
    for one in run.by(at):
        known = product_of(in_force, one.product) if one.product else None
        product = known.product_class if known is not None else one.product_class or product
    planned = set_up_of(row.set_up, run.place, in_force)
    if planned is None:
        words = _("The plan in force has no set-up %(name)s.") % {"name": row.set_up_name}
    elif product and product not in planned.classes:
        words = _("The set-up %(name)s does not cover this product.") % {"name": planned.name}
    else:
        return []
    return [barred(words, point)]


def set_up_of(key: str, place: str, in_force: InForce) -> SetUpDef | None:
    """A set-up of a press by its key."""
    return next((one for one in in_force.plan.set_ups if one.key == key and one.press == place), None)


def control_point(place: str, in_force: InForce) -> str:
    """Where what no check names belongs: the control point of the seals, else the first CCP of the press."""
    point = seal_point(place, in_force)
    if point is not None:
        return point.key
    keys = [one.control_point for one in in_force.plan.monitoring if place in one.subjects]
    ccp = [key for key in keys if in_force.plan.control_point_by_key(key).kind == "ccp"]
    return next(iter([*ccp, *keys]), "")
