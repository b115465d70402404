"""A recurrence rule (RFC 5545) in words where it is a common one."""

from __future__ import annotations

import re

from django.utils.dates import MONTHS, WEEKDAYS
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

_CODES = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
_DAY = re.compile(r"([1-4]|-1)?(MO|TU|WE|TH|FR|SA|SU)")


def recurrence(rule: str) -> str:
    """ "every 3 months, on day 15": a rule with any other part is given back as it is written, never read wrongly."""
    parts = dict(one.partition("=")[::2] for one in rule.upper().removeprefix("RRULE:").split(";"))
    interval = parts.pop("INTERVAL", "1")
    said = _every(parts.pop("FREQ", ""), int(interval) if interval.isdecimal() else 0)
    days = [_day(one) for one in parts.pop("BYDAY", "").split(",") if one]
    on_days, months = parts.pop("BYMONTHDAY", ""), parts.pop("BYMONTH", "")
    known = _within(on_days, 31) and _within(months, 12)
    if parts or not said or not all(days) or not known:
        return rule
    words = [said]
    if days:
        words.append(_("on %(days)s") % {"days": ", ".join(days)})
    if on_days:
        words.append(_("on day %(days)s") % {"days": on_days})
    if months:
        words.append(_("in %(months)s") % {"months": ", ".join(str(MONTHS[int(one)]) for one in months.split(","))})
    return ", ".join(words)


def _within(numbers: str, most: int) -> bool:
    return all(one.isdecimal() and 1 <= int(one) <= most for one in numbers.split(",")) if numbers else True


def _every(kind: str, interval: int) -> str:
    if interval < 1:
        return ""
    told = {
        "DAILY": ngettext("each day", "every %(n)s days", interval),
        "WEEKLY": ngettext("each week", "every %(n)s weeks", interval),
        "MONTHLY": ngettext("each month", "every %(n)s months", interval),
        "YEARLY": ngettext("each year", "every %(n)s years", interval),
    }.get(kind, "")
    return told % {"n": interval}


def _day(text: str) -> str:
    found = _DAY.fullmatch(text)
    if found is None:
        return ""
    name = str(WEEKDAYS[_CODES.index(found[2])])
    ordinals = {
        "1": _("the first %(day)s"),
        "2": _("the second %(day)s"),
        "3": _("the third %(day)s"),
        "4": _("the fourth %(day)s"),
        "-1": _("the last %(day)s"),
    }
    return ordinals[found[1]] % {"day": name} if found[1] else name
