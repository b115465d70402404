"""All that bears on one tub: its mix, its time in the press, its tanks and farms, the washes before, people and checks.

A tub is its code's lot. Everything is found by going back from it to the sources; a clean break ends the mixing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db.models import Exists, OuterRef, Q

from plant.hazard_plan.content import VesselDef
from plant.kept_words import kept_word
from plant.process.lots import Mix
from records.checks.models import Reading
from records.checks.saying import value_words
from records.flow.choices import vessel_of
from records.flow.lineage import LAST
from records.flow.models import Movement, Wash
from records.judging import queries as verdicts
from records.judging.models import Verdict
from records.judging.words import to_operator
from records.labels.models import PackagingOpened
from records.labels.queries import packaging_of
from records.lots.models import Lot
from records.people.plans import InForce
from records.recall import origins, reading, tables
from records.recall.reading import Walked
from records.recall.rows import Fill, Row
from records.recall.sampled import Tested, tested
from records.recall.scope import RecallScope, scope, source_shares
from records.recall.washed import Washed, before_fills, before_runs, judged_by_number

MOST_READINGS = 300
AT_ONCE = 60
Washes = Mapping[int, list[Wash]]


@dataclass(frozen=True, slots=True)
class Source:
    """Something that came from outside into the tub's mix: a farm's load, an ingredient; its share, its movement."""

    row: Row
    words: str
    share: str


@dataclass(frozen=True, slots=True)
class Pressed:
    """The time in which a movement that could have carried the tub's product ran through a line."""

    row: Row
    line: str
    line_code: str
    start: datetime
    end: datetime | None
    words: str
    washes: tuple[Washed, ...] = ()


@dataclass(frozen=True, slots=True)
class Tank:
    """A vessel's lot on the way: from when to when it held it, what washed it before, what of each source it holds."""

    fill: Fill
    name: str
    lot: UUID | None
    since: datetime
    until: datetime | None
    washes: tuple[Washed, ...]
    shares: tuple[tuple[str, str], ...]  # source, share


@dataclass(frozen=True, slots=True)
class Check:
    """A reading that touched it, with the verdict that governs it; None for a reading that no limit judges."""

    row: Reading
    words: str
    verdict: Verdict | None

    @property
    def outcome(self) -> str:
        """Of its verdict, in an operator's words; '' without one."""
        return to_operator(self.verdict.outcome) if self.verdict is not None else ""


@dataclass(frozen=True, slots=True)
class Tub:
    """One code's lot with all that bears on it."""

    lot: Lot
    before: RecallScope
    after: RecallScope
    sources: tuple[Source, ...]
    pressed: tuple[Pressed, ...]
    tanks: tuple[Tank, ...]
    checks: tuple[Check, ...]
    more_checks: bool
    people: tuple[str, ...]
    packaging: tuple[PackagingOpened, ...]
    tested: tuple[Tested, ...] = ()  # by the laboratory, of all lots that are in it


def tub_of(lot: Lot, in_force: InForce, at: datetime) -> Tub:
    """Everything of a lot of packs, or of a vessel's lot, in some twenty statements, however long the history is."""
    start = origins.of_lot(lot, in_force, backward=True).start
    before = scope(start, in_force, at, backward=True)
    after = scope(start, in_force, at)
    walked = reading.backward(start)
    reading.both_ways_in(walked.reached, walked.fills)
    from_outside, shares = source_shares(walked, in_force)
    final: list[object] = [*(one.number for one in start.rows), *(one for one, _since, _until in start.fills)]
    carried = [walked.reached.rows[number] for number in walked.movements]
    checks, more = _checks(walked, carried)
    tanks, lines = before_fills(list(walked.fills)), before_runs([one.number for one in carried if one.via_name])
    judged = judged_by_number([wash for rows in (*tanks.values(), *lines.values()) for wash in rows])
    in_it = {lot.id, *(one.lot for one in before.lots if one.lot is not None)}
    return Tub(
        lot,
        before,
        after,
        tuple(_sources(walked, final, from_outside, shares)),
        tuple(_pressed(walked, carried, in_force, lines, judged)),
        tuple(_tanks(walked, before, in_force, from_outside, shares, tanks, judged)),
        checks,
        more,
        _people(walked, checks),
        tuple(packaging_of(lot)) if lot.code else (),
        tuple(tested(in_it)),
    )


def _sources(
    walked: Walked, final: Sequence[object], from_outside: Sequence[int], shares: Mapping[object, Mix]
) -> list[Source]:
    """What came from outside and could be in it, with its share in all of the final movements, the largest first."""
    place = {number: index for index, number in enumerate(from_outside)}
    found = []
    for number in sorted(walked.movements):
        row = walked.reached.rows[number]
        if row.source:
            continue
        index = place.get(number)
        mixes = [shares[one] for one in final if one in shares]
        low = high = None
        if index is not None and mixes:
            low = min(float(mix.low[index]) for mix in mixes)
            high = max(float(mix.high[index]) for mix in mixes)
        found.append((-(high or 0.0), number, Source(row, tables.movement(row), tables.share(low, high))))
    return [one for _high, _number, one in sorted(found, key=lambda one: one[:2])]


def _pressed(
    walked: Walked, carried: list[Row], in_force: InForce, lines: Washes, judged: Mapping[int, Washed]
) -> list[Pressed]:
    names = {name: code for code, name in in_force.names.items()}
    found = []
    for row in sorted(carried, key=lambda one: (one.started_at, one.number)):
        if row.via_name:
            end = walked.reached.ends[row.number]
            latest = min(end, walked.movements[row.number])
            code = names.get(row.via_name, "")
            until = None if latest == LAST else latest
            washes = tuple(judged[one.number] for one in lines.get(row.number, ()))
            found.append(Pressed(row, row.via_name, code, row.started_at, until, tables.movement(row), washes))
    return found


def is_pasteurizer(code: str, in_force: InForce) -> bool:
    """Whether a line is where milk is pasteurized."""
    found: VesselDef | None = vessel_of(in_force, code)
    return found is not None and found.kind == "pasteurizer"


def _tanks(
    walked: Walked, before: RecallScope, in_force: InForce, from_outside: Sequence[int], shares: Mapping[object, Mix],
    tanks: Mapping[Fill, list[Wash]], judged: Mapping[int, Washed],
) -> list[Tank]:  # fmt: skip
    lots = {one.fill: one.lot for one in before.lots if one.fill is not None}
    found = []
    first_in = {fill: _first_in(walked, fill) for fill in walked.fills}
    for fill, until in sorted(walked.fills.items(), key=lambda one: (first_in[one[0]], one[0].vessel)):
        first = first_in[fill]
        mix = shares.get(fill)
        told = []
        for index, number in enumerate(from_outside):
            if mix is not None and float(mix.high[index]) > 0:
                row = walked.reached.rows[number]
                share = tables.share(float(mix.low[index]), float(mix.high[index]))
                told.append((f"{row.source_name}, {row.product_name}", share))
        name = in_force.names.get(fill.vessel, fill.vessel)
        found.append(
            Tank(
                fill, name, lots.get(fill), first,
                None if until == LAST else until, tuple(judged[one.number] for one in tanks.get(fill, ())), tuple(told),
            )
        )  # fmt: skip
    return found


def _checks(walked: Walked, carried: list[Row]) -> tuple[tuple[Check, ...], bool]:
    """Readings at each vessel while it held any of it, and at each line while it ran."""
    windows = [(fill.vessel, _first_in(walked, fill), until) for fill, until in walked.fills.items()]
    via = dict(Movement.objects.filter(number__in=[one.number for one in carried]).values_list("number", "via"))
    ends = walked.reached.ends
    windows += [(via[one.number], one.started_at, ends[one.number]) for one in carried if via[one.number]]
    found: dict[int, Reading] = {}
    for first in range(0, len(windows), AT_ONCE):
        wanted = Q(pk__in=[])
        for subject, since, until in windows[first : first + AT_ONCE]:
            wanted |= Q(subject=subject, observed_at__gte=since, observed_at__lte=until)
        amended = Reading.objects.filter(amends=OuterRef("number"))
        rows = Reading.objects.filter(~Exists(amended), wanted).order_by("-observed_at", "-number")
        found |= {one.number: one for one in rows[: MOST_READINGS + 1]}
    kept = sorted(found.values(), key=lambda one: (one.observed_at, one.number))
    judged = verdicts.governing(Reading.KIND, [one.number for one in kept])
    told = [Check(one, value_words(one), judged.get(one.number)) for one in kept[-MOST_READINGS:]]
    return tuple(told), len(kept) > MOST_READINGS


def _first_in(walked: Walked, fill: Fill) -> datetime:
    into = [walked.reached.rows[number].started_at for number, one in walked.reached.taken.items() if one == fill]
    return min(into, default=fill.begin)


def _people(walked: Walked, checks: tuple[Check, ...]) -> tuple[str, ...]:
    """Everybody who recorded a movement or a reading of it."""
    names = Movement.objects.filter(number__in=list(walked.movements)).values_list("by_name", "by_role")
    found = {f"{name}, {kept_word(role)}" if role else name for name, role in names}
    found |= {f"{one.row.by_name}, {kept_word(one.row.by_role)}" for one in checks if one.row.by_name}
    return tuple(sorted(found - {""}))
