"""What follows from a seal that is not whole, a holding time that is too short or a test that is not met."""

from __future__ import annotations

from datetime import datetime

from django.utils.translation import gettext as _

from plant.hazard_plan.content import ControlPointDef, LimitDef, MonitoringDef
from plant.process.limits import Outcome
from records.checks.consequences import hold_what_it_reaches
from records.checks.models import Reading
from records.checks.queries import governing
from records.deviations.actions import Cause, open_or_extend
from records.deviations.models import Deviation
from records.flow.queries import held_or_running, lots_touched
from records.judging.judge import GOOD
from records.judging.models import Verdict
from records.judging.queries import governing as verdicts_of
from records.ledger.actions import Act
from records.ledger.models import Installation
from records.people.plans import InForce
from records.workshop import seals
from records.workshop.keeping import standing
from records.workshop.models import EquipmentTest, HoldingTest, Kept, SealAct, WorkDone


def is_seal_limit(limit: LimitDef) -> bool:
    """Whether a limit of the plan is the one on seals: by its row, else by what it is about."""
    return limit.rule == "seals" or limit.quantity == "seals"


def seal_check(press: str, in_force: InForce) -> MonitoringDef | None:
    """The plan's check on the seals of a pasteurizer."""
    for one in in_force.plan.monitoring:
        if press in one.subjects and any(is_seal_limit(in_force.plan.limit_by_key(key)) for key in one.limits):
            return one
    return None


def seal_point(press: str, in_force: InForce) -> ControlPointDef | None:
    """The control point that the check on seals belongs to."""
    check = seal_check(press, in_force)
    return in_force.plan.control_point_by_key(check.control_point) if check is not None else None


def last_seen_whole(press: str, seal_place: str, before: datetime, in_force: InForce) -> datetime | None:
    """When that seal was last seen whole: by its own acts, or by the plan's check on all seals answered in limits."""
    acts = standing(SealAct.objects.filter(place=press, seal_place=seal_place, observed_at__lt=before))
    story = seals.fold(acts.order_by("observed_at", "number")).get(seal_place)
    found = [story.last_whole] if story and story.last_whole else []
    check = seal_check(press, in_force)
    if check is not None:
        read = Reading.objects.filter(monitoring_key=check.key, subject=press, observed_at__lt=before)
        latest = governing(read.order_by("-observed_at", "-number"))[:50]
        outcomes = verdicts_of(Reading.KIND, [one.number for one in latest])
        found += [one.observed_at for one in latest if one.number in outcomes and outcomes[one.number].outcome in GOOD]
    return max(found, default=None)


def not_whole_by_check(
    press: str, until: datetime, in_force: InForce
) -> list[tuple[datetime, datetime | None]]:
    """From each time that the plan's check on the seals was not met until it next was; None: not yet."""
    check = seal_check(press, in_force)
    if check is None:
        return []
    missed = Verdict.objects.filter(
        subject_kind=Reading.KIND, monitoring_key=check.key, outcome=Outcome.NOT_MET.value
    ).values_list("subject_number", flat=True)
    rows = Reading.objects.filter(number__in=list(missed), subject=press, observed_at__lt=until)
    bad = governing(rows.order_by("observed_at", "number"))
    outcomes = verdicts_of(Reading.KIND, [one.number for one in bad])
    found: list[tuple[datetime, datetime | None]] = []
    for one in bad:
        covered = found and (found[-1][1] is None or one.observed_at < found[-1][1])
        if outcomes[one.number].outcome == Outcome.NOT_MET.value and not covered:
            found.append((one.observed_at, _next_good(check.key, press, one.observed_at, until)))
    return found


def _next_good(key: str, press: str, after: datetime, until: datetime) -> datetime | None:
    rows = Reading.objects.filter(
        monitoring_key=key, subject=press, observed_at__gt=after, observed_at__lt=until
    )
    later = governing(rows.order_by("observed_at", "number"))
    outcomes = verdicts_of(Reading.KIND, [one.number for one in later])
    good = (one.observed_at for one in later if one.number in outcomes and outcomes[one.number].outcome in GOOD)
    return next(good, None)


def not_whole(row: SealAct) -> bool:
    """Whether an act says that a seal was not whole: broken, not there, or another one."""
    if row.what in seals.SEALING:
        return False
    return row.what in seals.BREAKING or seals.is_another(row.number_known, row.number_seen)


def follow_seal(a: Act, row: SealAct, in_force: InForce) -> Deviation | None:
    """A seal found not whole, while product runs or after it ran since the seal was last whole, is a deviation.

    One broken for work is one only while product runs. What ran since it was last seen whole is held.
    """
    if not not_whole(row):
        return None
    with in_force.speaking():
        sentence = f"{row.place_name}: {seal_words(row)}"
        since = None
        if row.what != seals.FOR_WORK:
            since = last_seen_whole(row.place, row.seal_place, row.observed_at, in_force) or beginning()
        return _open(a, row, sentence, Outcome.NOT_MET, since or row.observed_at, in_force)


def follow_holding(a: Act, row: HoldingTest, outcome: str, in_force: InForce) -> Deviation | None:
    """A holding time that is too short puts in question all that ran since the last test that met it."""
    if outcome != Outcome.NOT_MET.value:
        return None
    earlier = HoldingTest.objects.filter(place=row.place, set_up=row.set_up, observed_at__lt=row.observed_at)
    tests = list(standing(earlier).order_by("-observed_at", "-number"))
    met = verdicts_of(HoldingTest.KIND, [one.number for one in tests])
    good = (one.observed_at for one in tests if one.number in met and met[one.number].outcome in GOOD)
    with in_force.speaking():
        sentence = _("%(press)s, %(set_up)s: the holding time was found too short, %(seconds)s s") % {
            "press": row.place_name,
            "set_up": row.set_up_name,
            "seconds": row.seconds_typed,
        }
        return _open(a, row, sentence, Outcome.NOT_MET, next(good, None) or beginning(), in_force)


def follow_test(a: Act, row: EquipmentTest, in_force: InForce) -> Deviation | None:
    """A numbered test that was not met puts in question what ran since it was last met, or since work asked for it."""
    if row.met:
        return None
    earlier = EquipmentTest.objects.filter(
        place=row.place, test=row.test, instrument=row.instrument, met=True, observed_at__lt=row.observed_at
    )
    good = standing(earlier).order_by("-observed_at").values_list("observed_at", flat=True).first()
    works = standing(WorkDone.objects.filter(place=row.place, ended_at__lte=row.observed_at))
    worked = [one.ended_at for one in works if row.test in one.tests]
    since = max([one for one in (good, *worked) if one is not None], default=None) or beginning()
    with in_force.speaking():
        sentence = _("%(press)s: test %(test)s was not met") % {"press": row.place_name, "test": row.test_words}
        return _open(a, row, sentence, Outcome.NOT_MET, since, in_force)


def _open(
    a: Act, row: Kept, sentence: str, outcome: Outcome, since: datetime, in_force: InForce
) -> Deviation | None:
    """Where product ran from `since` on, or runs now; a press that stood idle all that time touched nothing."""
    point, check = seal_point(row.place, in_force), seal_check(row.place, in_force)
    if point is None or check is None:
        return None
    running = held_or_running(row.place, row.observed_at)
    if not (running and running.product) and not lots_touched(row.place, since, row.observed_at):
        return None
    deviation, _opened = open_or_extend(
        a,
        in_force=in_force,
        control_point=point.key,
        subject=row.place,
        cause=outcome.value,
        found=Cause(row.KIND, row.number, row.observed_at, sentence),
        since_at=since,
        weight=check.weight,
        foreseen=bool(check.corrective_action),
    )
    hold_what_it_reaches(a, deviation, point, row.place, since, row.observed_at)
    return deviation


def beginning() -> datetime:
    """Nothing says that it was ever whole, or long enough: back to the book's first entry."""
    first = Installation.objects.order_by("number").first()
    assert first is not None  # a plan is in force, so the book has begun
    return first.observed_at


def seal_words(row: SealAct) -> str:
    """'the seal at the timing pump was found broken (no. 114)'."""
    words = {"where": row.seal_place_words, "number": row.number_known or row.number_seen or _("no number")}
    if row.what == seals.FOUND_MISSING:
        return _("the seal at %(where)s was not there (%(number)s by the book)") % words
    if row.what == seals.FOR_WORK:
        return _("the seal at %(where)s was broken for work (%(number)s)") % words
    if row.what == seals.SEEN_WHOLE:
        return _("the seal at %(where)s is another one: %(seen)s, by the book %(number)s") % {
            **words,
            "seen": row.number_seen,
        }
    return _("the seal at %(where)s was found broken (%(number)s)") % words
