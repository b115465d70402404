"""Layout objects of the round's forms, for crispy-forms; see plant.forms.layout."""

from __future__ import annotations

from typing import Any, cast

from crispy_forms.utils import render_field
from django.template import Context
from django.template.loader import render_to_string
from django.utils.functional import Promise
from django.utils.safestring import SafeString, mark_safe


class Included:
    """A template of the page's own among the fields."""

    def __init__(self, template: str, **extra: object) -> None:
        self.template, self.extra = template, extra

    def render(self, form: Any, context: Context, template_pack: str = "daybook", **_kwargs: object) -> SafeString:
        """Return it as HTML, with the page's context and `form`."""
        return render_to_string(
            self.template, {**cast(dict[str, Any], context.flatten()), "form": form, **self.extra}
        )


class More:
    """Fields that are seldom wanted, folded away under a line of words; open when one of them is wrong."""

    def __init__(self, words: str | Promise, *fields: Any) -> None:
        self.words, self.fields = words, fields

    def render(self, form: Any, context: Context, template_pack: str = "daybook", **_kwargs: object) -> SafeString:
        """Return the fields as HTML inside `details`."""
        inner = "".join(render_field(one, form, context, template_pack=template_pack) for one in self.fields)
        wrong = any(form.errors.get(one if isinstance(one, str) else getattr(one, "field", "")) for one in self.fields)
        said = {"words": self.words, "inner": mark_safe(inner), "wrong": wrong}
        return render_to_string("records/checks/_more.html", said)
