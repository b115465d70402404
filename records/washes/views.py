"""Pages of washes: what a program washes, the latest washes judged, one wash, its form, a step amended."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from datetime import datetime
from typing import Any, cast

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from plant.process.contents import Condition
from records.flow.choices import washable
from records.flow.closed_days import is_closed
from records.flow.common import plan_at
from records.flow.consequences import sentences_of
from records.flow.floor import not_done_form, not_recorded_words
from records.flow.forms import WashAmendForm
from records.flow.history import load
from records.flow.lines import line_condition
from records.flow.models import PlantEvent, Wash
from records.flow.moving import may_amend
from records.flow.pages import no_plan, now_and_plan, saved_by, show_form
from records.flow.queries import contents_in, wash_begun, wash_not_recorded, washing_since
from records.flow.washing import amend_wash
from records.ledger.actions import Actor
from records.ledger.models import Record
from records.people.middleware import Request
from records.people.plans import InForce
from records.people.rights import RIGHTS
from records.washes import actions, along, state
from records.washes.forms import AmendForm, ProgramForm, step_data
from records.washes.models import WashStep
from records.washes.words import figures, gives_words, step_words

MOST = 40
page = require_http_methods(["GET", "HEAD", "POST"])


@dataclass(frozen=True, slots=True)
class Place:
    """What a program washes, as it stands: its condition, and its programs with the states that each gives."""

    code: str
    name: str
    condition: str
    may_begin: bool
    is_vessel: bool  # and so has a page of its own
    programs: tuple[tuple[str, str], ...]
    form_id: uuid.UUID
    begun: PlantEvent | None  # a wash that was said to begin and that nobody recorded in the plan's time

    @property
    def begun_words(self) -> str:
        """What is asked of it; empty without one."""
        return "" if self.begun is None else not_recorded_words(self.begun)

    @property
    def begun_form_id(self) -> uuid.UUID | None:
        """The form id of the tap that says that it did not happen."""
        return None if self.begun is None else not_done_form(self.begun)


@dataclass(frozen=True, slots=True)
class Line:
    """A wash in the list; `why` empty: its record meets its program. Not `asked`: the plan has none for it."""

    judged: state.JudgedWash
    why: tuple[str, ...]
    asked: bool


@dataclass(frozen=True, slots=True)
class StepLine:
    """A step of the plan, or one that the plan lacks, with what its record proves."""

    name: str
    outcome: str
    findings: tuple[tuple[str, str, str], ...]  # quantity, reason, clause


@require_safe
def washes(request: HttpRequest) -> HttpResponse:
    """What is washed by a program, one tap to begin, and the latest washes with their verdict."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    replaced = Wash.objects.exclude(amends=None).values("amends")
    rows = list(Wash.objects.filter(void=False).exclude(number__in=replaced).order_by("-ended_at", "-number")[:MOST])
    context = {
        "places": _places(in_force, now),
        "lines": [_line(one, in_force) for one in state.judged(rows)],
        "most": MOST,
        "may_record": _may(request, "records:wash-new"),
        "zone": in_force.zone,
    }
    return render(request, "records/washes/washes.html", context)


def _places(in_force: InForce, now: datetime) -> list[Place]:
    named = [(code, name, state.programs_at(in_force.plan, code)) for code, name in washable(in_force.plan)]
    named = [one for one in named if one[2]]
    codes = [code for code, _name, _programs in named]
    if not codes:
        return []
    history = load(in_force.plan, now, now, codes)
    contents = contents_in(history, in_force.plan, now, codes)
    washing = {code: washing_since(history, code, now) for code in codes}
    # A line that is no vessel (a separator) holds nothing that the book keeps.
    states = {
        code: contents[code].condition if code in contents else line_condition(history, code, now, washing[code], False)
        for code in codes
    }
    empty = [code for code in codes if states[code] in (Condition.CLEAN, Condition.SANITIZED)]
    unproven = state.unproven_among(empty, history, now, in_force)
    conditions = dict.fromkeys(unproven, _("washed, not proven"))
    found = []
    for code, name, programs in named:
        holds = contents[code].holds if code in contents else states[code] == Condition.HOLDS
        word = conditions.get(code, states[code])
        begin = not holds and not washing[code]
        told = tuple((one, gives_words(state.program(in_force.plan, one))) for one in programs)
        begun = wash_not_recorded(history, code, now, in_force.plan)
        found.append(Place(code, name, word, begin, code in contents, told, uuid.uuid4(), begun))
    return found


def _line(one: state.JudgedWash, in_force: InForce) -> Line:
    asked = bool(one.program or state.programs_at(in_force.plan, one.wash.vessel, one.wash.what))
    return Line(one, tuple(state.why_not_proven(one)) if asked else (), asked)


@require_safe
def wash_page(request: HttpRequest, number: int) -> HttpResponse:
    """One wash: each step of its program with rule, clause and numbers, and every row as it was said."""
    wash = Wash.objects.filter(number=number).first() if number < 2**63 else None
    if wash is None:
        raise Http404(_("There is no such wash."))
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    one = state.judged([wash])[0]
    standing = {row.number for row in one.steps}
    rows = WashStep.objects.filter(wash=state.root(wash)).order_by("started_at", "place_in", "number")
    may = _may(request, "records:wash-step-amend")
    by = _by(request)
    amended = Wash.objects.filter(amends=wash.number).first()
    wash_closed = is_closed(in_force.calendar.plant_day(wash.started_at))
    may_amend_it = amended is None and not wash.void and not may_amend(by, wash, wash_closed)
    told = []
    for row in rows:
        stands = row.number in standing
        closed = is_closed(in_force.calendar.plant_day(row.observed_at))
        amendable = stands and may and not may_amend(by, row, closed)
        told.append((row, step_words(row.step), figures(row), not stands, amendable))
    context = {
        "wash": wash,
        "judged": one,
        "why": _line(one, in_force).why,
        "asked": _line(one, in_force).asked,
        "results": _results(one),
        "charts": _charts(one, now),
        "told": told,
        "amended": amended,
        "may_amend": may_amend_it and _may(request, "records:wash-amend"),
        "led_to": sentences_of(wash.number),
        "zone": in_force.zone,
    }
    return render(request, "records/washes/wash.html", context)


def _charts(one: state.JudgedWash, now: datetime) -> list[tuple[str, str]]:
    """By recorder of the program: the chart of its place while the steps went on; empty where no trace is kept yet."""
    if not one.steps:
        return []
    then = plan_at(min(one.wash.started_at, one.steps[0].started_at))
    places = {each.key: each.place for each in then.plan.traced}
    keys = [key for step in state.program(then.plan, one.program) for key in step.recorders.values()]
    names = {places.get(key, key): key for key in reversed(keys)}.values()  # one chart shows all channels of a place
    return [(name, along.chart(name, one.steps, then, now)) for name in names]


def _results(one: state.JudgedWash) -> list[StepLine]:
    if one.result is None:
        return []
    return [
        StepLine(
            step_words(step.name),
            step.outcome.value,
            tuple(
                (found.quantity, found.judged.reason, found.judged.limit.clause if found.judged.limit else "")
                for found in step.findings
            ),
        )
        for step in one.result.steps
    ]


@page
def new(request: HttpRequest, code: str, program: str) -> HttpResponse:
    """A wash by its program, as a short table of steps."""
    now, in_force = now_and_plan()
    if in_force is None:
        return no_plan(request)
    if program not in state.programs_at(in_force.plan, code):
        raise Http404(_("The plan has no such program for this place."))
    known = {} if request.method == "POST" else _begun(code, now, in_force)
    form = ProgramForm(_sent(request), in_force=in_force, now=now, program=program, place=code, initial=known)
    if request.method == "POST" and form.is_valid():
        saved = saved_by(form, lambda: actions.record(_by(request), form.wash(code)))
        if saved is not None:
            _say(request, saved)
            return redirect("records:wash", number=saved.number)
    heading = _("%(vessel)s: %(program)s") % {"vessel": in_force.names.get(code, code), "program": program}
    return _show(request, form, heading)


def _begun(code: str, now: datetime, in_force: InForce) -> dict[str, Any]:
    """The first step's start, where the wash was said to begin."""
    begun = wash_begun(load(in_force.plan, now, now, [code]), code, now)
    return {} if begun is None else {"started_1": begun.observed_at}


@page
def amend(request: HttpRequest, number: int) -> HttpResponse:
    """A step as it should have been said."""
    row = WashStep.objects.filter(number=number).first() if number < 2**63 else None
    if row is None:
        raise Http404(_("There is no such step."))
    now = now_and_plan()[0]
    in_force = plan_at(row.started_at)
    planned = state.program(in_force.plan, row.program)
    known: dict[str, Any] = {"started": row.started_at, "ended": row.ended_at}
    known |= {name: getattr(row, f"{name}_typed") for name in ("temperature", "strength", "flow")}
    known |= {name: getattr(row, name) or "" for name in ("strip_lot", "strip_expires", "looked")}
    step = planned[row.place_in - 1]
    form = AmendForm(_sent(request), in_force=in_force, now=now, step=step, initial=known)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        said = step_data(data, row.place_in, "")
        saved = saved_by(
            form,
            lambda: actions.amend(_by(request), number, said, data["form_id"], data["reason"], void=data["void"]),
        )
        if saved is not None:
            messages.success(request, _("Recorded."))
            return redirect("records:wash", number=row.wash)
    return _show(request, form, _("Amend “%(step)s”") % {"step": step_words(row.step)})


@page
def wash_amend(request: HttpRequest, number: int) -> HttpResponse:
    """A wash as it should have been said; or that it did not happen."""
    row = Wash.objects.filter(number=number).first() if number < 2**63 else None
    if row is None:
        raise Http404(_("There is no such wash."))
    now = now_and_plan()[0]
    in_force = plan_at(row.started_at)
    form = WashAmendForm(_sent(request), in_force=in_force, now=now, place=row.vessel, initial=_known(row))
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        said = form.wash(row.vessel, row.what)
        saved = saved_by(form, lambda: amend_wash(_by(request), number, said, data["reason"], data["void"]))
        if saved is not None:
            _say(request, saved)
            return redirect("records:wash", number=saved.number)
    heading = _("Amend: %(vessel)s, entry %(number)d") % {"vessel": row.vessel_name, "number": number}
    return show_form(request, form, heading)


def _known(row: Wash) -> dict[str, Any]:
    names = ("started_at", "ended_at", "method", "strength", "contact_min", "note", "parted")
    known = {name: getattr(row, name) for name in names} | {"temperature": row.temperature_typed}
    return known | ({"temperature_unit": row.temperature_unit} if row.temperature_unit else {})


def _say(request: HttpRequest, saved: Record) -> None:
    """That it was recorded, and what it led to."""
    messages.success(request, _("Recorded."))
    for text in sentences_of(saved.number):
        messages.warning(request, text)


def _show(request: HttpRequest, form: ProgramForm | AmendForm, heading: str) -> HttpResponse:
    context = {"form": form, "heading": heading}
    return render(request, "records/washes/form.html", context, status=422 if form.errors else 200)


def _by(request: HttpRequest) -> Actor:
    return cast(Request, request).actor


def _sent(request: HttpRequest) -> Any:
    return request.POST if request.method == "POST" else None


def _may(request: HttpRequest, route: str) -> bool:
    return bool(cast(Request, request).roles & RIGHTS.get(route, frozenset()))
