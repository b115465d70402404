"""Blank paper forms, one for each check of the plan: for the day on which this book cannot be reached.

Paper stays the original; what is copied from it names the form's number.
"""

from __future__ import annotations

import uuid
from datetime import date, datetime

from django.http import Http404
from django.template.loader import render_to_string
from django.utils import formats
from django.utils.translation import gettext as _

from plant.hazard_plan.content import MonitoringDef
from plant.signing.pdf import render_pdf
from records.people.plans import InForce
from records.reports import said
from records.reports.answers import limit_row, what_of
from records.reports.pdf import static_dir
from records.reports.values import Data

LEAST_LINES, MOST_LINES = 5, 16
# Letters and digits that cannot be taken for each other when read out or copied by hand.
_DIGITS = "23456789ABCDEFGHJKMNPQRSTVWXYZ"


def title(one: MonitoringDef, in_force: InForce) -> str:
    """A check as the list of forms names it."""
    return f"{in_force.plan.control_point_by_key(one.control_point).name}: {what_of(one, in_force)}"


def form_number(plant: str, key: str) -> str:
    """'QC-raw-temperature-7K3F9M': the plant's initials, the check, and seven letters and digits drawn at random."""
    initials = "".join(word[0] for word in plant.split() if word[0].isalpha()).upper()[:4] or "X"
    value, drawn = uuid.uuid4().int, ""
    for _place in range(7):
        value, rest = divmod(value, len(_DIGITS))
        drawn += _DIGITS[rest]
    number = f"{initials}-{key}"
    return f"{number[:32]}-{drawn}"  # a reading keeps 40 characters of it


def blank_forms(in_force: InForce, day: date, key: str, now: datetime) -> bytes:
    """The forms of one check, or of every one, as a PDF. Each call draws new numbers. 404 for an unknown check."""
    chosen = [one for one in in_force.plan.monitoring if key in ("", one.key)]
    if not chosen:
        raise Http404(_("The plan in force has no such check."))
    plant = in_force.plan.plant
    context = {
        "plant": plant,
        "paper": "letter" if plant.temperature_unit.removeprefix("°") == "F" else "a4",
        "day": formats.date_format(day, "l j F Y"),
        "plan": in_force.number,
        "forms": [_form(one, in_force) for one in chosen],
    }
    html = render_to_string("records/reports/blank_forms_print.html", context)
    name = f"{plant.name}/blank forms/{day.isoformat()}/{key}/{uuid.uuid4()}"
    return render_pdf(html, static_dir=static_dir(), created_at=now, identifier=name)


def _form(one: MonitoringDef, in_force: InForce) -> Data:
    places = [in_force.names.get(code, code) for code in one.subjects]
    limits = [limit_row(in_force.plan.limit_by_key(key)) for key in one.limits]
    lines = max(LEAST_LINES, min(MOST_LINES, 2 * len(places)))
    return {
        "number": form_number(in_force.plan.plant.name, one.key),
        "point": in_force.plan.control_point_by_key(one.control_point).name,
        "what": what_of(one, in_force),
        "how": one.how,
        "limits": [
            " · ".join(filter(None, (said.limit_words(each, one.what), each["clause"] or each["basis"])))
            for each in limits
        ],
        "answer": _answer(one),
        "places": ", ".join(places),
        "lines": [places[at] if len(places) == 1 else "" for at in [0] * lines] if places else [""] * lines,
        "mixed": one.agitator_min,
        "instruments": ", ".join(one.instruments),
    }


def _answer(one: MonitoringDef) -> str:
    answer = one.answer
    if answer.kind == "pair":
        return _("indicating / recording, %(unit)s") % {"unit": answer.unit}
    if answer.kind == "yes_no":
        return _("yes / no")
    if answer.kind == "choice":
        return " / ".join(answer.choices)
    if answer.kind == "places":
        return _("each place: %(places)s") % {"places": ", ".join(answer.places)}
    return answer.unit or _("value")
