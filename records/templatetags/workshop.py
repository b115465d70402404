"""How a seal stands, in templates: its mark with its word, {% load workshop %}{% seal_mark state %}."""

from __future__ import annotations

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from plant.pictures.marks import mark_svg
from plant.process.limits import Outcome
from records.workshop import seals
from records.workshop.words import in_words

register = template.Library()
_MARKS = {seals.WHOLE: Outcome.MET, seals.BROKEN: Outcome.NOT_MET, seals.NOT_THERE: Outcome.NOT_MET}


@register.simple_tag
def seal_mark(state: str, size: float = 16) -> SafeString:
    """Return a seal's state: the mark of a verdict with the seal's own word; never recorded is not proven."""
    svg = mark_safe(mark_svg(_MARKS.get(state, Outcome.NOT_PROVEN), size))
    return format_html('<span class="marked">{}{}</span>', svg, in_words(state))


@register.filter
def workshop_word(key: str) -> str:
    """Return the words of one of the workshop's keys."""
    return in_words(key)
