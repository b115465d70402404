"""The words of ingredients' keys in templates: {% load ingredients %}{{ key|ingredient_word }}."""

from __future__ import annotations

from django import template

from records.ingredients.words import in_words

register = template.Library()


@register.filter
def ingredient_word(key: str) -> str:
    """Return the words of one of the keys of ingredients."""
    return in_words(key)
