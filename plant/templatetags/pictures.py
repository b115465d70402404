"""Marks and squares in templates, always with their word: {% load pictures %}{% mark verdict.outcome %}."""

from __future__ import annotations

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

from plant.picture_words import outcome_words, stop_words
from plant.pictures.marks import mark_svg, stop_svg

register = template.Library()


@register.simple_tag
def mark(outcome: str, size: float = 16) -> SafeString:
    """Return a verdict's mark with its word beside it."""
    svg = mark_safe(mark_svg(outcome, size))
    return format_html('<span class="marked">{}{}</span>', svg, outcome_words()[outcome])


@register.simple_tag
def mark_alone(outcome: str, size: float = 16, ident: str = "") -> SafeString:
    """Return a verdict's mark where there is no room for its word, which a screen reader still reads.

    ``ident`` must be another one for each such mark on a page.
    """
    return mark_safe(mark_svg(outcome, size, outcome_words()[outcome], ident=ident))


@register.simple_tag
def stop_square(state: str, size: float = 21) -> SafeString:
    """Return the square of a stop of the walk; its note says the state in words."""
    return mark_safe(stop_svg(state, size))


@register.filter
def outcome_word(outcome: str) -> str:
    """Return what operators call a verdict."""
    return outcome_words()[outcome]


@register.filter
def stop_word(state: str) -> str:
    """Return the state of a stop in words."""
    return stop_words()[state]
