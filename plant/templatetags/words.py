"""Kept keys in templates: {% load words %}{{ one.by_role|said }}."""

from __future__ import annotations

from collections.abc import Iterable

from django import template

from plant import kept_words

register = template.Library()


@register.filter
def said(key: object) -> str:
    """A key that records or plans keep, in the reader's language; any other text as it is."""
    return kept_words.kept_word(str(key)) if key else ""


@register.filter
def all_said(keys: Iterable[str]) -> list[str]:
    """Several keys."""
    return [kept_words.kept_word(one) for one in keys]


@register.filter
def why_said(key: str) -> str:
    """Why a verdict was made."""
    return kept_words.why_said(key)
