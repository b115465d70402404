"""Environmental sites: what was found where, by zone, and the follow-up that a find still asks for."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from plant.process.laboratory import FOUND, NOT_FOUND, TESTS, Kind
from records.judging.queries import governing
from records.laboratory.controls import is_doubted
from records.laboratory.models import SITE, LabResult, Sample
from records.laboratory.queries import root_of, standing
from records.people.plans import InForce

LOOKED_BACK = timedelta(days=400)
MOST = 1000  # samples of sites read at once
SHOWN = 24  # of a site, the latest
CLAUSE = "21 CFR 117.165(a)(3), 117.150(a)(1)(ii)(B), from memory"


@dataclass(frozen=True, slots=True)
class Swab:
    """One test of one sample of a site: `said` found, not found, or empty while its result is not in or not proven."""

    sample: Sample
    said: str
    doubted: bool = False


@dataclass(frozen=True, slots=True)
class SiteTrend:
    """A site and one test: its swabs in order of time, how many have an answer, in how many it was found."""

    zone: int
    place: str
    name: str
    test: str
    swabs: tuple[Swab, ...]

    @property
    def answered(self) -> int:
        return sum(bool(one.said) for one in self.swabs)

    @property
    def found(self) -> int:
        return sum(one.said == FOUND for one in self.swabs)

    @property
    def latest(self) -> tuple[Swab, ...]:
        """Those that a page shows."""
        return self.swabs[-SHOWN:]


@dataclass(frozen=True, slots=True)
class FollowUp:
    """After a find: `clean` days of those `wanted` in a row on which it was not found; `waiting` have no answer."""

    trend: SiteTrend
    found: Swab
    clean: int
    wanted: int
    waiting: int
    by_plan: bool  # whether the plan says how many days; else one is asked for, and a qualified individual says more


def trends(now: datetime) -> list[SiteTrend]:
    """Every site that was sampled within the last 400 days, by zone and place; three queries."""
    rows = standing(Sample.objects.filter(kind=SITE, observed_at__gte=now - LOOKED_BACK, observed_at__lte=now))
    samples = sorted(rows.order_by("-observed_at", "-number")[:MOST], key=lambda one: (one.observed_at, one.number))
    results = list(standing(LabResult.objects.filter(sample__in=[root_of(one) for one in samples])).order_by("number"))
    verdicts = governing(LabResult.KIND, [one.number for one in results])
    said: dict[tuple[int, str], Swab] = {}
    by_root = {root_of(one): one for one in samples}
    for row in results:
        doubted = is_doubted(verdicts.get(row.number))
        # Found once is found, whatever another result of the same bottle says.
        if said.get((row.sample, row.test), Swab(by_root[row.sample], "")).said != FOUND:
            kept = "" if doubted and row.sign != FOUND else row.sign
            said[row.sample, row.test] = Swab(by_root[row.sample], kept, doubted)
    sites: dict[tuple[int, str, str], list[Swab]] = {}
    for one in samples:
        asked = [test for test in one.tests if test in TESTS and TESTS[test].kind is Kind.SIGN]
        tests = dict.fromkeys([*asked, *(test for root, test in said if root == root_of(one))])
        for test in tests:
            if TESTS[test].kind is Kind.SIGN:
                swab = said.get((root_of(one), test), Swab(one, ""))
                sites.setdefault((one.zone, one.place, test), []).append(swab)
    return [
        SiteTrend(zone, place, swabs[-1].sample.place_name, test, tuple(swabs))
        for (zone, place, test), swabs in sorted(sites.items(), key=lambda one: (one[0][0] or 9, one[0][1:]))
    ]


def follow_ups(rows: Iterable[SiteTrend], in_force: InForce) -> list[FollowUp]:
    """The sites with a find that have not yet been clean on as many days in a row since as the plan asks."""
    local, kept = in_force.calendar.local, []
    for trend in rows:
        last = next((at for at in range(len(trend.swabs) - 1, -1, -1) if trend.swabs[at].said == FOUND), None)
        if last is None:
            continue
        since = trend.swabs[last + 1 :]
        day = local(trend.swabs[last].sample.observed_at).date()
        clean = {local(one.sample.observed_at).date() for one in since if one.said == NOT_FOUND} - {day}
        asked = days_asked(trend.place, trend.test, in_force)
        wanted = asked or 1
        if len(clean) < wanted:
            waiting = sum(not one.said for one in since)
            kept.append(FollowUp(trend, trend.swabs[last], len(clean), wanted, waiting, bool(asked)))
    return kept


def days_asked(place: str, test: str, in_force: InForce) -> int:
    """On how many days in a row the plan wants it not found after a find there; 0 where it does not say."""
    rows = [one for one in in_force.plan.sampled if one.zone and one.place == place and one.test == test]
    return max((one.clean_days for one in rows), default=0)
