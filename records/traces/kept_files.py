"""Files that are kept: the latest of them, and one with what was found in its time."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from django.urls import NoReverseMatch, reverse
from django.utils.translation import gettext as _

from plant.process.trace_file import Mapping
from records.people.plans import InForce
from records.traces import judging
from records.traces.findings import FindingSaid, standing
from records.traces.importing import known_instruments
from records.traces.models import TraceFile, TraceJudged
from records.traces.place_strip import newest_of
from records.traces.windows import Window

LISTED = 30


@dataclass(frozen=True, slots=True)
class Told:
    """A kept file in words."""

    instruments: tuple[tuple[str, str], ...]  # (what, address of its strip chart)
    clock: str
    findings: tuple[FindingSaid, ...]
    judged: tuple[TraceJudged, ...]


def latest(in_force: InForce) -> list[tuple[TraceFile, str]]:
    """The files kept last, each with the names of what it holds."""
    names = {one.code: one.name for one in known_instruments(in_force)}
    rows = TraceFile.objects.order_by("-number")[:LISTED]
    return [(one, ", ".join(names.get(code, code) for code in one.instruments)) for one in rows]


def judge(row: TraceFile) -> None:
    """Judge what a file brought, at every place that it tells of."""
    judging.judge_instruments(row.instruments, row.first_at, row.last_at)


def told(row: TraceFile, in_force: InForce) -> Told:
    """How a file was read and what was found in its time."""
    names = {one.code: one.label for one in known_instruments(in_force)}
    places = judging.places_of(row.instruments, in_force)
    mapping = Mapping.from_plain(row.mapping)
    clock = mapping.time.clock or _("the plant's own, with its clock changes")
    judged = TraceJudged.objects.filter(place__in=places, start_at__lte=row.last_at, end_at__gte=row.first_at)
    return Told(
        tuple((names.get(code, code), _address(code, row)) for code in row.instruments),
        _("offset written with each time") if mapping.time.offset else clock,
        tuple(standing(row.first_at, row.last_at, places, in_force.zone)),
        tuple(newest_of(judged.order_by("number"))),
    )


def _address(code: str, row: TraceFile) -> str:
    try:
        address = reverse("records:trace", kwargs={"instrument": code})
    except NoReverseMatch:
        return ""
    return f"{address}?{Window(row.first_at, row.last_at + timedelta(seconds=1)).query()}"
