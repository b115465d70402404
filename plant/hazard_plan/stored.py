"""A plan as draft rows and the plant's own rows, and back."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from dataclasses import asdict, fields
from datetime import datetime
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models, transaction

from plant.hazard_plan import approvals
from plant.hazard_plan.content import (
    ClosureDef,
    ControlPointDef,
    EscalationDef,
    HazardDef,
    LimitDef,
    MonitoringDef,
    PipeDef,
    Plan,
    PlanError,
    PlantHeader,
    ProgrammeDef,
    ReviewerDef,
    SampledDef,
    Settings,
    SetUpDef,
    ShiftDef,
    StepDef,
    TracedDef,
    TrainingDef,
    VerificationDef,
    WashStepDef,
    build,
    from_json,
    to_json,
)
from plant.hazard_plan.described import describe, described
from plant.hazard_plan.models import (
    ControlPoint,
    CriticalLimit,
    Hazard,
    Monitoring,
    PlanSection,
    PlanVersion,
    ProcessStep,
    VersionRow,
)
from plant.hazard_plan.tidy import tidy
from plant.people.models import Person

# Plan's field -> (its table, the class of content.py that one row of it is).
TABLES: dict[str, tuple[type[VersionRow], type[Any]]] = {
    "steps": (ProcessStep, StepDef),
    "hazards": (Hazard, HazardDef),
    "control_points": (ControlPoint, ControlPointDef),
    "limits": (CriticalLimit, LimitDef),
    "monitoring": (Monitoring, MonitoringDef),
}
# Plan's field -> (PlanSection.kind, the class; None for plain tables of texts).
SECTIONS: dict[str, tuple[str, type[Any] | None]] = {
    "shifts": ("shift", ShiftDef),
    "closures": ("closure", ClosureDef),
    "programmes": ("programme", ProgrammeDef),
    "verification": ("verification", VerificationDef),
    "reviewers": ("reviewer", ReviewerDef),
    "escalation": ("escalation", EscalationDef),
    "set_ups": ("set-up", SetUpDef),
    "traced": ("traced", TracedDef),
    "sampled": ("sampled", SampledDef),
    "wash_steps": ("wash step", WashStepDef),
    "pipes": ("pipe", PipeDef),
    "trainings": ("training", TrainingDef),
    "confirmations": ("confirmation", None),
}


def content_hash(plan: Plan) -> str:
    """SHA-256 of the plan's content, the same however its rows were written down."""
    text = json.dumps(to_json(tidy(plan)), ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def plan_of(version: PlanVersion) -> Plan:
    """What a version says: what its approval froze, or for a draft its rows and the plant as it is now."""
    frozen = approvals.frozen_text(version.id)
    if frozen is not None:
        return from_json(json.loads(frozen))
    return from_rows(version)


def from_rows(version: PlanVersion) -> Plan:
    """What a version's rows say, with the plant as it is now: of an approved one, to compare with what it froze."""
    parts: dict[str, Any] = {}
    for name, (table, kind) in TABLES.items():
        names = [one.name for one in fields(kind)]
        rows = table._default_manager.filter(version=version).order_by("place").values(*names)
        parts[name] = tuple(build(kind, row, name) for row in rows)
    sections: dict[str, list[Any]] = {}
    for section in PlanSection.objects.filter(version=version).order_by("kind", "place"):
        sections.setdefault(section.kind, []).append(section.body)
    for name, (section_kind, made_of) in SECTIONS.items():
        bodies = sections.get(section_kind, [])
        parts[name] = tuple(dict(one) if made_of is None else build(made_of, one, name) for one in bodies)
    header = build(PlantHeader, version.header, "plant")
    settings = build(Settings, version.settings, "settings")
    return tidy(Plan(title=version.title, plant=header, settings=settings, **described(), **parts))


def same_content(plan: Plan) -> PlanVersion | None:
    """The newest version that was made of exactly this content and still says it; None when there is none."""
    for version in PlanVersion.objects.filter(source_hash=content_hash(plan)):
        if plan_of(version) == tidy(plan):
            return version
    return None


def store(plan: Plan, by: Person | None, now: datetime) -> PlanVersion:
    """Write a plan as a new draft, and the plant it describes; the same content again adds nothing.

    Before any approval the plan's vessels, equipment, instruments and products become the plant's. Afterwards
    a description that differs from the plant's is refused (PlanError naming the code): it is changed on its
    own page, with a reason. PlanError also names a text that is too long or a key used twice.
    """
    plan = tidy(plan)
    with transaction.atomic():
        found = same_content(plan)
        if found is not None:
            return found
        describe(plan, anything_approved=bool(approvals.approved()))
        last = PlanVersion.objects.order_by("-number").values_list("number", flat=True).first() or 0
        version = PlanVersion(
            number=last + 1,
            title=plan.title,
            header=to_json(plan.plant),
            settings=to_json(plan.settings),
            made_at=now,
            made_by=by,
            source_hash=content_hash(plan),
        )
        _clean(version, "", ("made_by", "number", "settings"))
        version.save(force_insert=True)
        write_rows(version, plan)
    return version


def write_rows(version: PlanVersion, plan: Plan) -> None:
    """Write every row under a version that has none yet."""
    for name, (table, _kind) in TABLES.items():
        values = enumerate(to_json(getattr(plan, name)))
        rows = [table(version=version, place=at, **one) for at, one in values]
        _insert(table, rows, name, exclude=("version", "subjects", "answer", "frequency"))
    sections: list[PlanSection] = []
    for name, (kind, _made_of) in SECTIONS.items():
        for at, one in enumerate(getattr(plan, name)):
            body = dict(one) if isinstance(one, dict) else asdict(one)
            key = body.get("key") or str(at)
            sections.append(PlanSection(version=version, kind=kind, key=key, place=at, body=to_json(body)))
    for section in sections:
        _clean(section, section.kind, ("version", "body"))
    _no_key_twice(((section.kind, section.key) for section in sections), "")
    PlanSection.objects.bulk_create(sections)


def _insert(table: type[VersionRow], rows: list[VersionRow], name: str, exclude: tuple[str, ...]) -> None:
    for at, row in enumerate(rows):
        _clean(row, f"{name}[{at}]", exclude)
    _no_key_twice(((name, row.key) for row in rows), name)
    table._default_manager.bulk_create(rows)


def _no_key_twice(keys: Iterable[tuple[str, str]], path: str) -> None:
    seen: set[tuple[str, str]] = set()
    for at, (kind, key) in enumerate(keys):
        if (kind, key) in seen:
            raise PlanError(f"{path}[{at}].key" if path else kind, f"{key!r} is used twice")
        seen.add((kind, key))


def _clean(row: models.Model, path: str, exclude: Iterable[str]) -> None:
    try:
        row.clean_fields(exclude=set(exclude))
    except ValidationError as error:
        name, messages = next(iter(error.message_dict.items()))
        raise PlanError(f"{path}.{name}" if path else name, str(messages[0])) from error
