"""Readings to look at, a reading or note that nobody asked for, and what is due today."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, cast

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from records.checks import asking as asks
from records.checks import matters, queries, saying, walk
from records.checks.actions import write_note
from records.checks.entry import Nonsense
from records.checks.forms import DoneForm, FreeForm
from records.checks.models import Reading, ReadingNote, RoundSigned, Transition
from records.checks.queries import DueCheck
from records.checks.round_views import page, saved_by, sent
from records.deviations.errors import Refused
from records.deviations.models import Correction, DeviationCause
from records.flow import queries as flow
from records.flow.pages import no_plan, now_and_plan
from records.judging import queries as verdicts
from records.judging.models import Verdict
from records.ledger import files
from records.ledger.models import FileKept
from records.people.middleware import Request
from records.people.plans import InForce, plan_in_force
from records.people.rights import RIGHTS

MOST_READINGS = 200
LONGEST_LINE = 100  # amendments of one reading that a page follows


def may(request: HttpRequest, route: str) -> bool:
    """Whether the person's roles open a route: no link to a page that refuses them."""
    return bool(cast(Request, request).roles & RIGHTS.get(route, frozenset()))


# --- one reading


@dataclass(frozen=True, slots=True)
class Told:
    """One reading of a line of amendments, with its words and verdicts."""

    reading: Reading
    words: str
    verdicts: list[Verdict]


@require_safe
def reading(request: HttpRequest, number: int) -> HttpResponse:
    """A reading with every verdict and its reasons, what it amends and what amended it, notes and consequences."""
    found = _reading_or_404(number)
    line = line_of(found)
    numbers = [one.number for one in line]
    judged = verdicts.all_verdicts(Reading.KIND, numbers)
    told = [Told(one, saying.value_words(one), judged.get(one.number, [])) for one in line]
    in_force = plan_in_force(found.observed_at)
    asking = asks.of_reading(found)
    last = line[-1]
    outcome = judged[last.number][-1].outcome if judged.get(last.number) else ""
    gauge = None
    if asking is not None and last.value is not None:
        gauge = saying.gauge(asking, last.product_class, last.observed_at, last, outcome)
    context = {
        "reading": found,
        "words": saying.value_words(found),
        "told": told,
        "is_last": found.number == last.number,
        "last": last,
        "notes": ReadingNote.objects.filter(reading__in=numbers),
        "corrections": Correction.objects.filter(subject_kind=Reading.KIND, subject_number__in=numbers),
        "deviations": list(_deviations(numbers)),
        "missed": _missed(found),
        "signed": _signed(found),
        "gauge": gauge,
        "zone": in_force.zone if in_force else "",
        "matter": matters.matter_of(last),
        "may_note": may(request, "records:reading-note"),
        "may_amend": may(request, "records:reading-amend"),
        "places": list(found.places.items()),
    }
    return render(request, "records/checks/reading.html", context)


def line_of(reading: Reading) -> list[Reading]:
    """The whole line of amendments that a reading is part of, the first one first."""
    line = [reading]
    while line[0].amends is not None and len(line) < LONGEST_LINE:
        line.insert(0, Reading.objects.get(number=line[0].amends))
    while len(line) < 2 * LONGEST_LINE:
        following = Reading.objects.filter(amends=line[-1].number).first()
        if following is None:
            break
        line.append(following)
    return line


def _deviations(numbers: list[int]) -> list[int]:
    causes = DeviationCause.objects.filter(cause_kind=Reading.KIND, cause_number__in=numbers)
    return sorted(set(causes.values_list("deviation", flat=True)))


def _missed(reading: Reading) -> Transition | None:
    if reading.due_at is None:
        return None
    return Transition.objects.filter(
        what="missed",
        monitoring_key=reading.monitoring_key,
        subject=reading.subject,
        event=reading.event,
        due_at=reading.due_at,
    ).first()


def _signed(reading: Reading) -> RoundSigned | None:
    rounds = RoundSigned.objects.filter(by_id=reading.by_id, number__gt=reading.number).order_by("number")[:50]
    return next((one for one in rounds if reading.number in one.readings), None)


def _reading_or_404(number: int) -> Reading:
    found = Reading.objects.filter(number=number).first()
    if found is None:
        raise Http404(_("There is no such reading."))
    return found


@require_safe
def photo(request: HttpRequest, number: int) -> HttpResponse:
    """The photo kept with a reading, exactly as it came."""
    found = _reading_or_404(number)
    kept = FileKept.objects.filter(sha256=found.file).first() if found.file else None
    if kept is None:
        raise Http404(_("No photo was kept with this reading."))
    try:
        data = files.read(kept.sha256)
    except files.FileDamaged as damaged:
        raise Http404(str(damaged)) from damaged
    mime = kept.mime if kept.mime.startswith("image/") else "application/octet-stream"
    response = HttpResponse(data, content_type=mime)
    response["X-Content-Type-Options"] = "nosniff"
    return response


@page
def note(request: HttpRequest, number: int) -> HttpResponse:
    """A note on a reading, at any time."""
    found = _reading_or_404(number)
    actor = cast(Request, request).actor
    leave = reverse("records:reading", args=[number])
    form = DoneForm(
        sent(request),
        initials=actor.initials,
        leave=leave,
        leave_words=_("Back"),
        label=_("What was seen or done"),
    )
    if request.method == "POST" and form.is_valid():
        try:
            write_note(actor, found, form.cleaned_data["text"], form.cleaned_data["form_id"])
        except (Nonsense, Refused) as refused:
            form.refuse(refused)
        else:
            return redirect(leave)
    context = {"reading": found, "value_words": saying.value_words(found), "form": form}
    return render(request, "records/checks/note.html", context, status=422 if form.errors else 200)


# --- several readings


@require_safe
def readings(request: HttpRequest) -> HttpResponse:
    """The latest readings, or those of one place or plant day."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    rows = Reading.objects.order_by("-observed_at", "-number")
    place, day = request.GET.get("place", ""), _day(request.GET.get("day", ""))
    place = place if place in in_force.names else ""
    if place:
        rows = rows.filter(subject=place)
    if day is not None:
        start, end = in_force.calendar.day_bounds(day)
        rows = rows.filter(observed_at__gte=start, observed_at__lt=end)
    found = list(rows[:MOST_READINGS])
    judged = verdicts.governing(Reading.KIND, [one.number for one in found])
    amended = set(
        Reading.objects.filter(amends__in=[one.number for one in found]).values_list("amends", flat=True)
    )
    context = {
        "rows": [(one, saying.value_words(one), judged.get(one.number), one.number in amended) for one in found],
        "names": sorted(in_force.names.items(), key=lambda one: one[1]),
        "place": place,
        "day": day.isoformat() if day else "",
        "most": MOST_READINGS,
        "zone": in_force.zone,
    }
    return render(request, "records/checks/readings.html", context)


def _day(text: str) -> date | None:
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return None
    return day if 2000 <= day.year <= 2200 else None


# --- asked by nobody


@page
def free_reading(request: HttpRequest) -> HttpResponse:
    """Any reading or note on any place at any time. On a vessel that the book calls empty it asks what is in it."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    place = request.GET.get("vessel", "")
    place = place if place in in_force.names else ""
    initial = {"subject": place}
    form = FreeForm(
        sent(request),
        request.FILES or None,
        in_force=in_force,
        now=now,
        initials=cast(Request, request).actor.initials,
        initial=initial,
    )
    if request.method == "POST":
        saved = saved_by(request, form)
        if saved is not None:
            return redirect("records:free-kept", number=saved.reading.number)
    held = flow.contents_at(now, [place]).get(place) if place else None
    context = {"form": form, "place_name": in_force.names.get(place, ""), "held": held, "zone": in_force.zone}
    return render(request, "records/checks/free.html", context, status=422 if form.errors else 200)


@require_safe
def free_kept(request: HttpRequest, number: int) -> HttpResponse:
    """A reading that nobody asked for is kept; where the book calls the vessel empty, what is in it?"""
    found = _reading_or_404(number)
    held = flow.contents_at(found.observed_at, [found.subject]).get(found.subject)
    in_force = plan_in_force(found.observed_at)
    holds = in_force is not None and any(
        one.code == found.subject and one.holds_product for one in in_force.plan.vessels
    )
    context = {
        "reading": found,
        "words": saying.value_words(found),
        "empty": holds and held is not None and not held.holds and found.value is not None,
        "zone": in_force.zone if in_force else "",
    }
    return render(request, "records/checks/free_kept.html", context)


# --- what is due


@require_safe
def due(request: HttpRequest) -> HttpResponse:
    """All that the plan makes due this plant day, shift by shift, with its state and what answered it."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    today = in_force.calendar.plant_day(now)
    day = _day(request.GET.get("day", "")) or today
    start, end = in_force.calendar.day_bounds(day)
    checks = queries.due_between(start, end, now)
    context = {
        "groups": _by_shift(checks, in_force),
        "day": day,
        "is_today": day == today,
        "before": day - timedelta(days=1),
        "following": day + timedelta(days=1),
        "counts": _counts(checks),
        "total": len(checks),
        "may_log": may(request, "records:round-check"),
        "zone": in_force.zone,
    }
    return render(request, "records/checks/due.html", context)


def _counts(checks: list[DueCheck]) -> dict[str, int]:
    return {
        "in_time": sum(one.state == "on time" for one in checks),
        "late": sum(one.state in ("late", "answered late") for one in checks),
        "missed": sum(one.state in walk.MISSED for one in checks),
        "waiting": sum(one.state in ("due", "not yet") for one in checks),
    }


def _by_shift(checks: list[DueCheck], in_force: InForce) -> list[tuple[str, list[dict[str, Any]]]]:
    judged = verdicts.governing(Reading.KIND, [one.reading.number for one in checks if one.reading])
    names = {one.key: one.name for one in in_force.plan.shifts}
    groups: dict[str, list[dict[str, Any]]] = {}
    ordered = sorted(checks, key=lambda one: (one.due.due_at, one.subject_name, one.due.key))
    for one in ordered:
        answer = one.reading or (one.more[0] if one.more else None)
        verdict = judged.get(one.reading.number) if one.reading else None
        row = {
            "check": one,
            "asking": asks.of_check(one),
            "state": state_words(one.state),
            "answer": answer,
            "words": saying.value_words(answer) if answer else "",
            "verdict": verdict,
            "open": one.state in (*walk.OPEN, "missed"),
        }
        groups.setdefault(names.get(_shift_key(one), _("between shifts")), []).append(row)
    return list(groups.items())


def _shift_key(check: DueCheck) -> str:
    if check.due.shift:
        return check.due.shift
    shift = walk.shift_of(check.in_force, check.due.due_at)  # a re-check has none of its own
    return shift.key if shift else ""


def state_words(state: str) -> str:
    """The state of a due check in words."""
    return {
        "not yet": _("not yet"),
        "due": _("due"),
        "late": _("late"),
        "missed": _("missed"),
        "on time": _("in time"),
        "answered late": _("done late"),
        "answered after missed": _("missed, read later"),
    }[state]

