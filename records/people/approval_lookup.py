"""Answers what plant.hazard_plan.approvals asks: which versions are approved, and what that froze."""

from __future__ import annotations

from uuid import UUID

from plant.hazard_plan.approvals import Approved
from records.people.models import PlanApproval


def approved() -> list[Approved]:
    """Every approval in the order of coming into force."""
    rows = PlanApproval.objects.order_by("in_force_from", "version_number").values_list(
        "version_id", "version_number", "in_force_from", "content_hash"
    )
    return [Approved(*row) for row in rows]


def frozen_text(version_id: UUID) -> str | None:
    """The whole version as its approval keeps it; None when it has none."""
    return PlanApproval.objects.filter(version_id=version_id).values_list("plan", flat=True).first()
