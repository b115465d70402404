"""The plan page, any version of it, and the rule set behind it."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from plant import clock
from plant.hazard_plan import approvals, drafts, words
from plant.hazard_plan.check import problems
from plant.hazard_plan.content import Plan, TrainingDef
from plant.hazard_plan.labels import TABLES, WEEKDAY_NAMES
from plant.hazard_plan.models import PlanVersion
from plant.hazard_plan.page import Links, view_of
from plant.hazard_plan.stored import plan_of
from plant.rules import keys, rule_set

PLANNERS = {"qualified individual", "owner"}


def may_plan(request: HttpRequest) -> bool:
    """Whether the reader may change a draft (the table of rights is what refuses; this only shows links)."""
    return bool(PLANNERS & set(getattr(request, "roles", ())))


@require_safe
def plan(request: HttpRequest) -> HttpResponse:
    """The plan in force; before the first approval the newest draft."""
    standing = approvals.in_force(clock.now())
    found = PlanVersion.objects.filter(id=standing.version_id) if standing else PlanVersion.objects.order_by("-number")
    return _page(request, found.first())


@require_safe
def plan_version(request: HttpRequest, number: int) -> HttpResponse:
    """One version or draft."""
    return _page(request, get_object_or_404(PlanVersion, number=number))


def _page(request: HttpRequest, version: PlanVersion | None) -> HttpResponse:
    shown: dict[str, Any] = {"versions": _versions(), "version": version}
    if version is not None:
        content = plan_of(version)
        draft = drafts.editable(version)
        editing = draft and may_plan(request)
        shown |= {
            "draft": draft,
            "editing": editing,
            "may_plan": may_plan(request),
            "view": view_of(content, _links(version) if editing else {}),
            "plan": content,
            "problems": problems(content) if draft else [],
            "sections": _sections(version, editing) if draft else [],
            "confirmable": "qualified individual" in getattr(request, "roles", ()),
            "approval": next((one for one in approvals.approved() if one.version_id == version.id), None),
            "plan_zone": content.plant.time_zone,
            "shift_days": [
                (one, ", ".join(str(WEEKDAY_NAMES.get(d, d)) for d in one.weekdays)) for one in content.shifts
            ],
            "trainings": _trainings(content),
            "addable": [(table, TABLES[table]) for table in TABLES if table != "confirmations"] if editing else [],
        }
    return render(request, "plant/hazard_plan/plan.html", shown)


def _trainings(plan: Plan) -> list[tuple[TrainingDef, str, str, str]]:
    """Each training with its topic and how often it is asked in the reader's language, and its control point's name."""
    points = {one.key: one.name for one in plan.control_points}
    return [(one, words.topic(one), words.again(one), points.get(one.control_point, "")) for one in plan.trainings]


def _versions() -> list[dict[str, Any]]:
    """Each version, the newest first, with what it is."""
    given = {one.version_id: one for one in approvals.approved()}
    standing = approvals.in_force(clock.now())
    found = []
    for version in PlanVersion.objects.order_by("-number"):
        approval = given.get(version.id)
        if approval is None:
            state = _("draft")
        elif standing is not None and approval == standing:
            state = _("in force")
        elif approval.in_force_from > clock.now():
            state = _("approved, comes into force later")
        else:
            state = _("no longer in force")
        found.append({"version": version, "state": state, "approval": approval})
    return found


def _links(version: PlanVersion) -> Links:
    return {
        (table, key): reverse("plant:plan-row", args=[version.number, table, row_id])
        for table in TABLES
        for row_id, key in drafts.keys(version, table)
    }


SHORT = (
    "shifts",
    "closures",
    "verification",
    "reviewers",
    "escalation",
    "set_ups",
    "traced",
    "sampled",
    "wash_steps",
    "pipes",
    "trainings",
    "confirmations",
)


def _sections(version: PlanVersion, editing: bool) -> list[tuple[Any, list[tuple[str, str]]]]:
    """The short tables of a draft (shifts, closures, reviewers …) as (title, rows of words and address)."""
    found = []
    for table in SHORT:
        rows = []
        for row in drafts.rows(version, table):
            address = reverse("plant:plan-row", args=[version.number, table, row.id])
            rows.append((_said(row.value), address if editing else ""))
        found.append((TABLES[table], rows))
    return found


def _said(value: Any) -> str:
    """A short row in a line of words."""
    said = value if isinstance(value, dict) else {name: getattr(value, name) for name in value.__slots__}
    parts = [
        ", ".join(one) if isinstance(one, tuple) else str(one)
        for name, one in said.items()
        if one not in ("", (), False)
    ]
    return " · ".join(parts)


@require_safe
def rules(request: HttpRequest, key: str) -> HttpResponse:
    """Every row of a rule set with its clause, basis and source."""
    if key not in keys():
        raise Http404
    found = rule_set(key)
    groups: dict[str, list[Any]] = {}
    for row in found.rows.values():
        groups.setdefault(row.group, []).append((row, found.addresses(row)))
    return render(request, "plant/hazard_plan/rules.html", {"rules": found, "groups": groups, "others": keys()})


def anchor(version: PlanVersion, table: str, key: str) -> str:
    """The address of one row on its version's page."""
    return f"{reverse('plant:plan-version', args=[version.number])}#{table}-{quote(key)}"
