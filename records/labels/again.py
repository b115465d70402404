"""What ran on the strength of an entry that was amended, looked at again: what is newly wrong follows at once.

Nothing is released by it.
"""

from __future__ import annotations

from datetime import datetime

from records.flow.common import plan_at
from records.flow.consequences import follow_product
from records.flow.effective import standing
from records.flow.finding import Finding
from records.flow.models import Movement
from records.labels import queries
from records.labels.findings import on_the_line_of
from records.labels.models import OfLine
from records.ledger.actions import Act

MOST = 200
Wrong = dict[int, tuple[Movement, dict[str, Finding]]]


def wrong_on(place: str, *moments: datetime) -> Wrong:
    """What is wrong, by clearance and packaging, with what ran through a line from the earliest of these moments on.

    By the movement's number; the first MOST of them, as long as a roll is looked for on the line.
    """
    since = min(moments)
    rows = standing(Movement.objects.filter(via=place, started_at__gte=since, started_at__lte=since + queries.OPEN_FOR))
    found: Wrong = {}
    for row in rows.order_by("started_at", "number")[:MOST]:
        in_force = plan_at(row.started_at)
        with in_force.speaking():
            found[row.number] = row, on_the_line_of(row, in_force)
    return found


def follow_new(a: Act, record: OfLine, before: Wrong, after: Wrong) -> None:
    """The deviation and hold of what was not wrong before; `record` is their cause."""
    for number, (row, findings) in sorted(after.items()):
        known = before[number][1] if number in before else {}
        new = [one for about, one in findings.items() if about not in known]
        if not new:
            continue
        in_force = plan_at(row.started_at)
        follow_product(a, new, record, in_force, [row])
