"""Who holds a role, and whom to tell."""

from __future__ import annotations

from datetime import datetime

from plant.people.models import Person, Role


def holders(role: Role | str, now: datetime) -> list[Person]:
    """Everybody still here who holds the role at that moment, by name."""
    people = Person.objects.filter(is_active=True).prefetch_related("held_roles")
    return [one for one in people if role in one.roles_at(now)]
