"""The watch: it sees what did not happen. Each transition is an inserted row with a unique key, so it happens once."""

from __future__ import annotations

from collections import Counter
from datetime import datetime, timedelta

from django.db.models import Q
from django.utils.translation import gettext as _

from plant import clock
from records.checks import consequences, queries
from records.checks.models import Reading, Transition, WatchState
from records.checks.queries import DueCheck
from records.deviations.actions import Cause, end_outage, open_or_extend, open_outage
from records.deviations.models import Deviation, DeviationCause, Outage, OutageEnd
from records.judging import queries as verdicts
from records.judging.actions import write_verdict
from records.judging.judge import GOOD, Judgement
from records.ledger.actions import WATCH, Act, act
from records.people.plans import InForce, plan_in_force

# The watch looks each minute. Away for longer than this, it was down: an outage, opened once for all it covers.
DOWN_AFTER = timedelta(minutes=15)
MISSED_STATES = ("missed", "answered after missed")


def look() -> Counter[str]:
    """One pass: outage, then late and missed checks. Counts what this pass (and no other) wrote."""
    now = clock.now()
    done: Counter[str] = Counter()
    in_force = plan_in_force(now)
    if in_force is None:
        return done
    before = WatchState.objects.filter(only=1).first()
    answers_from = before.answers_from if before else in_force.in_force_from
    checks = [one for one in queries.unsettled(now) if one.due.due_at >= answers_from]
    if before is not None and now - before.looked_at > DOWN_AFTER:
        done["outage"] += _outage(in_force, before.looked_at, now, checks)
    done.update(_transitions(checks, now))
    WatchState.objects.update_or_create(
        only=1,
        defaults={"looked_at": now},
        create_defaults={
            "looked_at": now,
            "answers_from": answers_from,
        },
    )
    return done


def begin_at(moment: datetime) -> None:
    """From here on the watch answers for what is due: a demo that was off, or a restored copy, did not run before."""
    WatchState.objects.update_or_create(only=1, defaults={"looked_at": moment, "answers_from": moment})


def _outage(in_force: InForce, since: datetime, until: datetime, checks: list[DueCheck]) -> int:
    under = [one for one in checks if one.due.late_after > since and one.due.due_at <= until and one.reading is None]
    covers = [_cover(one) for one in under]
    with in_force.speaking():
        text = _("The watch did not run.")
    outage, deviation = open_outage(WATCH, in_force, "daybook", since, covers, text)
    if OutageEnd.objects.filter(outage=outage.number).exists():
        return 0
    end_outage(WATCH, outage, until, [])
    return 1


def _cover(one: DueCheck) -> dict[str, str]:
    return {
        "check": one.in_force.what_of(one.monitoring),
        "where": one.subject_name,
        "due": one.due.due_at.isoformat(),
        "ccp": "yes" if one.is_ccp else "no",
    }


def _transitions(checks: list[DueCheck], now: datetime) -> Counter[str]:
    wanted = [(what, one) for one in checks for what in _what(one)]
    keys = {transition_key(what, one) for what, one in wanted}
    standing = set(Transition.objects.filter(key__in=keys).values_list("key", flat=True))
    done: Counter[str] = Counter()
    for what, one in wanted:
        if transition_key(what, one) not in standing and _write(what, one):
            done[what] += 1
    return done


def _what(one: DueCheck) -> tuple[str, ...]:
    if one.state in MISSED_STATES:
        return ("late", "missed") if one.due.late_after < one.due.missed_at else ("missed",)
    return ("late",) if one.state == "late" else ()


def transition_key(what: str, one: DueCheck) -> str:
    """what|monitoring|subject|event|due"""
    return f"{what}|{one.key}"


def _write(what: str, one: DueCheck) -> bool:
    """One transition and its consequences in one act, in the plant's language; False when another pass was first."""
    with one.in_force.speaking():
        return _write_spoken(what, one)


def _write_spoken(what: str, one: DueCheck) -> bool:
    key = transition_key(what, one)
    with act(WATCH) as a:
        if Transition.objects.filter(key=key).exists():
            return False
        moment = one.due.late_after if what == "late" else one.due.missed_at
        row = a.write(
            Transition(
                key=key,
                what=what,
                monitoring_key=one.monitoring.key,
                subject=one.due.subject,
                subject_name=one.subject_name,
                event=one.due.event,
                due_at=one.due.due_at,
                plan_number=one.in_force.number,
                sentence=_sentence(what, one),
            ),
            observed_at=moment,
        )
        if what == "missed":
            _missed(a, row, one)
        return True


def _sentence(what: str, one: DueCheck) -> str:
    due = one.in_force.calendar.local(one.due.due_at).strftime("%H:%M")
    words = {"late": _("was late"), "missed": _("was missed")}
    where = one.subject_name or one.in_force.plan.plant.name
    return _("%(where)s: %(what)s, due %(due)s, %(how)s") % {
        "where": where,
        "what": one.in_force.what_of(one.monitoring),
        "due": due,
        "how": words[what],
    }


def _missed(a: Act, row: Transition, one: DueCheck) -> None:
    """Nothing recorded is not proven. At a CCP, or where the law asks, it is a deviation and holds product."""
    judgement = Judgement(
        outcome="not proven",
        reason=_("Nothing recorded in time."),
        numbers={},
        monitoring_key=one.monitoring.key,
    )
    write_verdict(a, Transition.KIND, row.number, judgement, one.in_force, "entry")
    point = one.control_point
    if point.kind != "ccp" and not one.monitoring.legal:
        return
    cause = Cause(Transition.KIND, row.number, one.due.missed_at, row.sentence)
    outage = _outage_over(one, a.now)
    if outage is not None:
        a.write(
            DeviationCause(deviation=outage, cause_kind=cause.kind, cause_number=cause.number, sentence=cause.sentence),
            observed_at=cause.observed_at,
        )
        deviation = Deviation.objects.get(number=outage)
        since = _touched_since(one, one.due.due_at)
    else:
        since = _touched_since(one, one.due.missed_at)
        deviation, _opened = open_or_extend(
            a,
            in_force=one.in_force,
            control_point=point.key,
            subject=one.due.subject,
            cause="missed",
            found=cause,
            since_at=since,
            weight=one.monitoring.weight,
            foreseen=bool(one.monitoring.corrective_action),
        )
    if consequences.holds_product(point, one.monitoring):
        consequences.hold_what_it_reaches(a, deviation, point, one.due.subject, since, one.due.missed_at)


def _touched_since(one: DueCheck, before: datetime) -> datetime:
    return consequences.reaches_back_to(one.due.subject, last_good(one, before), one.due.opens_at)


def _outage_over(one: DueCheck, now: datetime) -> int | None:
    """The deviation of an outage that lay over the whole of this check's own time.

    One that ends later than now was written while the clock ran ahead: it must not swallow what is missed since.
    """
    for outage in Outage.objects.filter(started_at__lte=one.due.late_after).exclude(deviation=None):
        end = OutageEnd.objects.filter(outage=outage.number).first()
        if end is None or one.due.late_after <= end.ended_at <= now:
            return outage.deviation
    return None


def last_good(one: DueCheck, before: datetime) -> datetime | None:
    """When this check's vessel was last read in limits before a moment (a week back at most)."""
    rows = queries.governing(
        Reading.objects.filter(
            Q(observed_at__lt=before) & Q(observed_at__gte=before - consequences.AROUND),
            monitoring_key=one.monitoring.key,
            subject=one.due.subject,
        ).order_by("-observed_at", "-number")
    )[:20]
    outcomes = verdicts.governing(Reading.KIND, [row.number for row in rows])
    return next(
        (row.observed_at for row in rows if row.number in outcomes and outcomes[row.number].outcome in GOOD), None
    )
