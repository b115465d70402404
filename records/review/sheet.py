"""The data of a day sheet: the day's records (records.reports.day) with what its review adds."""

from __future__ import annotations

from datetime import date, datetime

from django.utils.translation import gettext as _

from records.charts.day import after_closing
from records.deviations.models import CorrectiveAction, DeviationClosing, Disposition, Hold, HoldLift
from records.ledger.canonical import moment
from records.ledger.models import Record
from records.reports import troubles
from records.reports.day import Data, Review, day_data
from records.review import ledger_state, queries
from records.review.balance import balance
from records.review.models import DayClosing


def sheet_data(plant_day: date, revision: int, at: datetime, since: DayClosing | None = None) -> Data:
    """Everything the sheet of that day says at `at`; with `since`, also what came after that closing."""
    handed: dict[str, list[tuple[str, str, Record]]] = {}
    for one in queries.hand_overs(plant_day):
        handed.setdefault(one.shift, []).append((one.side, one.notes, one))
    review = Review(
        ledger=ledger_state.state_of(plant_day, revision),
        in_charge={shift: one.person_name for shift, one in queries.in_charge(plant_day).items()},
        hand_overs=handed,
        balance=balance,
        since=tuple(since_closing(since)) if since is not None else (),
    )
    return day_data(plant_day, revision, at, review)


def since_closing(closing: DayClosing) -> list[Data]:
    """What became of the day's deviations, holds and charts after its closing: none of it changes the closed sheet."""
    start, end = queries.bounds(closing.plant_day, closing.received_at)
    numbers = [one.number for one in troubles.of_the_day(start, end)]
    holds = Hold.objects.filter(deviation__in=numbers) | Hold.objects.filter(
        observed_at__gte=start, observed_at__lt=end
    )
    held = {one.number: one.lot_label for one in holds.distinct()}
    after = {"number__gt": closing.number}
    found: list[tuple[Record, str]] = []
    for part in CorrectiveAction.objects.filter(deviation__in=numbers, **after):
        found.append((part, _("deviation %(number)s: %(text)s") % {"number": part.deviation, "text": part.text}))
    for end_ in DeviationClosing.objects.filter(deviation__in=numbers, **after):
        found.append((end_, _("deviation %(number)s closed: %(text)s") % {"number": end_.deviation, "text": end_.text}))
    for one in Disposition.objects.filter(hold__in=held, **after):
        words = {"lot": held[one.hold], "what": one.what, "reason": one.reason}
        found.append((one, _("disposition of %(lot)s proposed: %(what)s, %(reason)s") % words))
    for lift in HoldLift.objects.filter(hold__in=held, **after):
        found.append((lift, _("hold on %(lot)s lifted by the second signature") % {"lot": held[lift.hold]}))
    found += after_closing(start, end, closing.number)
    found.sort(key=lambda pair: pair[0].number)
    return [
        {"when": moment(row.received_at), "what": what, "by": row.by_name, "entry": row.number} for row, what in found
    ]
