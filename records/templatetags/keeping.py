"""Until when a record must be kept: {% load keeping %}{% kept_until record %}."""

from __future__ import annotations

from django import template
from django.utils.translation import gettext as _

from plant import clock
from records.ledger.models import Record
from records.people.plans import plan_in_force

register = template.Library()


@register.simple_tag
def kept_until(record: Record) -> str:
    """'To be kept until 2028-03-03 at least …', by the plan in force now; nothing before the first plan."""
    in_force = plan_in_force(clock.now())
    if in_force is None:
        return ""
    return _(
        "To be kept until %(day)s at least (21 CFR 117.315 and the plan; a state may ask for longer)."
        " Nothing is ever removed."
    ) % {"day": in_force.kept_until(record.received_at).isoformat()}
