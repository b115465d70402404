"""What a plan must say of the trainings it asks for to be approved."""

from __future__ import annotations

from plant.hazard_plan.content import Plan
from plant.hazard_plan.problem import Findings
from plant.people.models import Role
from plant.process.training import LONGEST_MONTHS

# An inspector is a guest: the plant trains nobody of the regulator.
ROLES = tuple(one for one in Role.values if one != Role.INSPECTOR.value)
LONGEST_TOPIC = 200


def check_trainings(plan: Plan, found: Findings) -> None:
    """Refuse a training of nobody, of an unknown role, without words, or asked again after nonsense."""
    points = {one.key for one in plan.control_points}
    for at, one in enumerate(plan.trainings):
        path = f"trainings[{at}]"
        if not one.topic.strip():
            found.refuse(f"{path}.topic", "must not be empty")
        for name in ("topic", "topic_es"):
            if len(getattr(one, name)) > LONGEST_TOPIC:
                found.refuse(f"{path}.{name}", f"has more than {LONGEST_TOPIC} characters")
        if not one.roles:
            found.refuse(f"{path}.roles", "names at least one role that it is asked of")
        for role in one.roles:
            found.one_of(f"{path}.roles", role, ROLES, "role that is trained here")
        if not 0 <= one.every_months <= LONGEST_MONTHS:
            found.refuse(f"{path}.every_months", f"is 0 (once) or 1 to {LONGEST_MONTHS} months")
        if not one.clause.strip():
            found.refuse(f"{path}.clause", "says where it comes from, or 'common practice, no source'")
        if one.control_point and one.control_point not in points:
            found.refuse(f"{path}.control_point", f"{one.control_point!r} is no control point of this plan")
