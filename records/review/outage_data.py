"""What an outage covers, and what stood in limits by reading on both sides of it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.utils.translation import gettext as _

from records.checks import outages, queries
from records.checks.models import Reading
from records.deviations.models import Outage, OutageEnd
from records.flow.queries import contents_at
from records.judging import queries as verdicts
from records.judging.judge import GOOD
from records.people.plans import InForce, plan_in_force

Cover = dict[str, str]
KINDS = ("power", "network", "daybook")
LOOK_BACK = timedelta(days=7)


def covers(in_force: InForce, started_at: datetime, until: datetime, now: datetime) -> list[Cover]:
    """Everything under an outage, as texts: vessels with product, recorders, checks that fell due in it."""
    held = [one for one in contents_at(started_at).values() if one.holds]
    found: list[Cover] = [
        {"kind": "vessel", "code": one.vessel, "where": one.name, "holds": one.words} for one in held
    ]
    for instrument in in_force.plan.instruments:
        if "record" in instrument.role.lower():
            where = in_force.names.get(instrument.place_code, instrument.place_code)
            found.append({"kind": "recorder", "code": instrument.code, "where": where, "check": instrument.name})
    for one in queries.due_between(started_at, max(until, started_at), now):
        found.append(
            {
                "kind": "check",
                "code": one.due.subject,
                "where": one.subject_name,
                "check": one.monitoring.what,
                "due": one.due.due_at.isoformat(),
                "ccp": "yes" if one.is_ccp else "no",
                "answered": str(one.reading.number) if one.reading else "",
            }
        )
    return found


@dataclass(frozen=True, slots=True)
class Side:
    """A reading beside an outage."""

    at: datetime
    words: str
    outcome: str
    number: int


def _good(side: Side) -> bool:
    return side.outcome in GOOD


@dataclass(frozen=True, slots=True)
class Tank:
    """What a vessel's readings say of an outage: the last before it and the first after it."""

    code: str
    name: str
    holds: str
    before: Side | None
    after: Side | None
    ended: bool

    @property
    def proven(self) -> bool:
        """Whether the last reading before and the first after it are both in limits."""
        return self.before is not None and self.after is not None and _good(self.before) and _good(self.after)

    @property
    def words(self) -> str:
        """What that proves, in words: never that nothing happened in between."""
        if self.after is not None and not _good(self.after):
            return _("out of limits or not proven at the first reading after it")
        if self.proven:
            return _("in limits by reading before and after; nothing was read in between")
        if self.after is None:
            return _("not proven: not read since it ended") if self.ended else _("not proven: it still lasts")
        return _("not proven: no reading in limits before it")


def tanks(outage: Outage, end: OutageEnd | None, now: datetime) -> list[Tank]:
    """Each vessel that an outage covers, with the readings on both sides of it."""
    in_force = plan_in_force(outage.started_at) or plan_in_force(now)
    if in_force is None:
        return []
    held = {one.vessel: one for one in contents_at(outage.started_at).values() if one.holds}
    ended_at = end.ended_at if end else None
    if ended_at is not None:
        held |= {one.vessel: one for one in contents_at(ended_at).values() if one.holds and one.vessel not in held}
    found = []
    for code, contents in held.items():
        keys = [one.key for one in in_force.plan.monitoring if outages.is_temperature_of(one, code)]
        rows = Reading.objects.filter(subject=code, monitoring_key__in=keys)
        before = rows.filter(observed_at__lt=outage.started_at, observed_at__gte=outage.started_at - LOOK_BACK)
        after = rows.filter(observed_at__gte=ended_at, observed_at__lte=now) if ended_at else None
        found.append(
            Tank(
                code,
                contents.name,
                contents.words,
                _side(queries.governing(before.order_by("-observed_at", "-number"))[:1]),
                _side(queries.governing(after.order_by("observed_at", "number"))[:1] if after is not None else []),
                ended_at is not None,
            )
        )
    return found


def _side(rows: list[Reading]) -> Side | None:
    if not rows:
        return None
    (row,) = rows
    verdict = verdicts.governing(Reading.KIND, [row.number]).get(row.number)
    words = f"{row.typed} {row.unit}".strip() if row.typed else row.not_taken
    return Side(row.observed_at, words, verdict.outcome if verdict else "not proven", row.number)


def covers_at_end(outage: Outage, in_force: InForce, ended_at: datetime, now: datetime) -> list[Cover]:
    """As `covers`, for the whole of it, with what is known of each vessel when the end is recorded."""
    found = covers(in_force, outage.started_at, ended_at, now)
    known = {one.code: one for one in tanks(outage, None, now)}
    for one in found:
        if one["kind"] == "vessel" and (tank := known.get(one["code"])) and tank.before:
            one["last_before"] = f"{tank.before.words}, {tank.before.at.isoformat()}, {tank.before.outcome}"
    return found
