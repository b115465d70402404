"""Words and times of the flow pages: {% load flow %}."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

from django import template
from django.utils.translation import gettext as _

from plant import clock
from records.flow.disposed import NotReleased
from records.flow.words import in_words as translated

register = template.Library()


@register.filter
def when(moment: datetime | None, zone: str = "") -> str:
    """A time on the plant's clocks: 17:05 today, 03-02 17:05 on another day of this year, else with the year."""
    if moment is None:
        return ""
    local, today = _local(moment, zone), _local(clock.now(), zone)
    if local.date() == today.date():
        return local.strftime("%H:%M")
    return local.strftime("%m-%d %H:%M" if local.year == today.year else "%Y-%m-%d %H:%M")


def _local(moment: datetime, zone: str) -> datetime:
    return moment.astimezone(ZoneInfo(zone)) if zone else moment


@register.filter
def in_words(text: str) -> str:
    """A state or event in the reader's language."""
    return translated(text)


@register.filter
def held(reason: str, code: str = "") -> str:
    """Why product is not free: 'on hold: …' (of a code), or what was signed for it instead of a release."""
    if isinstance(reason, NotReleased):
        return f"{code}: {reason}" if code else reason
    if code:
        return _("%(code)s is on hold: %(why)s") % {"code": code, "why": reason}
    return _("on hold: %(reason)s") % {"reason": reason}
