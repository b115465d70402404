"""Layout objects for crispy-forms, in the look of the daybook: one big number, the bar of acts, yes or no,
places.

Each is a plain object with a ``render`` method, which is all that crispy-forms asks of one. They render with
the template pack in force (``templates/daybook``). Labels may be lazily translated.
"""

from collections.abc import Mapping
from typing import Any

from crispy_forms.utils import render_field
from django.forms import BaseForm
from django.template import Context
from django.template.loader import render_to_string
from django.utils.functional import Promise
from django.utils.safestring import SafeString

Words = str | Promise

# A phone's or tablet's own number keys, no memory of earlier values, no guessing at spelling.
NUMBER_ATTRS = {"inputmode": "decimal", "autocomplete": "off", "autocorrect": "off", "spellcheck": "false"}


def _field(
    name: str,
    form: BaseForm,
    context: Context,
    template: str,
    attrs: Mapping[str, str] | None = None,
    extra: Mapping[str, Any] | None = None,
) -> SafeString:
    html: SafeString = render_field(
        name,
        form,
        context,
        template=template,
        attrs=dict(attrs) if attrs else None,
        extra_context=dict(extra) if extra else None,
    )
    return html


def _as_text(form: Any, name: str) -> None:
    """Make a number's box a text box: browsers empty a number box that holds '43,,8', and what was typed is
    kept.
    """
    widget = form.fields[name].widget
    if widget.input_type == "number":
        widget.input_type = "text"


class BigNumber:
    """The one big field of a round: a text box that asks for number keys, the unit beside it.

    ``unit`` is shown as words; ``unit_field`` instead names a choice field of the same form, so that a value
    may be entered in another unit (the value stays as typed, the unit is recorded with it).
    """

    def __init__(self, field: str, unit: Words = "", unit_field: str = "") -> None:
        self.field = field
        self.unit = unit
        self.unit_field = unit_field

    def render(self, form: Any, context: Context, template_pack: str = "daybook", **_kwargs: object) -> SafeString:
        """Return the field as HTML; what was typed is kept, what is wrong stands under it."""
        extra: dict[str, Any] = {"unit": self.unit, "unit_bound": None}
        if self.unit_field:
            form.fields[self.unit_field].widget.attrs.update({"class": "unit", "data-unit-field": ""})
            form.rendered_fields.add(self.unit_field)
            extra["unit_bound"] = form[self.unit_field]
        attrs = {**NUMBER_ATTRS, "class": "big-input", "data-big": ""}
        _as_text(form, self.field)
        return _field(self.field, form, context, f"{template_pack}/layout/bignumber.html", attrs, extra)


class Figure:
    """A number among other fields: ordinary size, number keys, its unit beside it.

    ``unit`` is shown as words; ``unit_field`` instead names a choice field of the same form.
    """

    def __init__(self, field: str, unit: Words = "", unit_field: str = "") -> None:
        self.field = field
        self.unit = unit
        self.unit_field = unit_field

    def render(self, form: Any, context: Context, template_pack: str = "daybook", **_kwargs: object) -> SafeString:
        """Return the field as HTML."""
        extra: dict[str, Any] = {"unit": self.unit, "unit_bound": None}
        if self.unit_field:
            form.rendered_fields.add(self.unit_field)
            extra["unit_bound"] = form[self.unit_field]
        attrs = {**NUMBER_ATTRS, "class": "figure"}
        _as_text(form, self.field)
        return _field(self.field, form, context, f"{template_pack}/field.html", attrs, extra)


class _Wrapped:
    """A field in a wrapper of its own class."""

    wrapper_class = ""

    def __init__(self, field: str) -> None:
        self.field = field

    def render(self, form: Any, context: Context, template_pack: str = "daybook", **_kwargs: object) -> SafeString:
        """Return the field as HTML."""
        extra = {"wrapper_class": self.wrapper_class}
        return _field(self.field, form, context, f"{template_pack}/field.html", None, extra)


class YesNo(_Wrapped):
    """Two big rows side by side for a choice of yes and no; neither is answered beforehand."""

    wrapper_class = "yes-no"


class Places(_Wrapped):
    """Numbered places (traps 1 to 20) as a grid of boxes to tick, for a field of several choices."""

    wrapper_class = "places"


class ActionBar:
    """The main act as one wide ink bar, and beside it the honest way out ('I could not take it').

    The way out is a link when ``out_url`` is given, else a second button of the same form named ``out_name``.
    """

    def __init__(
        self,
        main: Words,
        out: Words = "",
        *,
        out_url: str = "",
        out_name: str = "could_not",
        main_name: str = "",
    ) -> None:
        self.words = {"main_label": main, "out_label": out}
        self.names = {"out_url": out_url, "out_name": out_name, "main_name": main_name}

    def render(self, _form: Any, _context: Context, template_pack: str = "daybook", **_kwargs: object) -> SafeString:
        """Return the bar as HTML."""
        return render_to_string(f"{template_pack}/layout/actionbar.html", {**self.words, **self.names})
