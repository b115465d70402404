"""What a person may type into a draft: one form for any row, made from the class of content.py that the row is."""

from __future__ import annotations

import typing
from dataclasses import MISSING, Field, fields, is_dataclass
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Layout
from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from plant.forms.layout import ActionBar, Places
from plant.hazard_plan.content import Plan, PlanError, PlantHeader, Settings, build, hints_of, to_json
from plant.hazard_plan.labels import LONG, choices_of, label_of

LONGEST = 4000
LARGEST = 1_000_000


class Lines(forms.CharField):
    """A list of short texts, one a line."""

    widget = forms.Textarea(attrs={"rows": 3})

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(help_text=_("One a line."), max_length=LONGEST, **kwargs)

    def to_python(self, value: Any) -> Any:
        """The lines that say something."""
        return [one.strip() for one in (super().to_python(value) or "").splitlines() if one.strip()]

    def run_validators(self, value: Any) -> None:
        """The length counts for the whole."""
        super().run_validators("\n".join(value))

    def prepare_value(self, value: Any) -> Any:
        """Lines again."""
        return "\n".join(value) if isinstance(value, (list, tuple)) else value


class Many(Places):
    """Many choices as a grid, for lists of vessels, limits and instruments."""

    wrapper_class = "many"


class RowForm(forms.Form):
    """One row of a draft, or its header. `value_of` gives the plain values for content.build."""

    def __init__(
        self, data: Any, *, table: str, kinds: dict[str, type[Any]], value: dict[str, Any], plan: Plan, out_url: str
    ) -> None:
        super().__init__(data, initial=value)
        self.table, self.kinds, self.plan, self.out_url = table, kinds, plan, out_url
        for prefix, kind in kinds.items():
            self._add(prefix, kind)

    def _add(self, prefix: str, kind: type[Any]) -> None:
        hints = hints_of(kind)
        for one in fields(kind):
            if is_dataclass(hints[one.name]):
                self._add(f"{one.name}_", typing.cast(type[Any], hints[one.name]))
                continue
            name = f"{prefix}{one.name}"
            self.fields[name] = self._field(one, name, hints[one.name])

    def _field(self, one: Field[Any], name: str, hint: Any) -> forms.Field:
        said: dict[str, Any] = {"label": label_of(name)}
        needed = one.default is MISSING and one.default_factory is MISSING
        choices = choices_of(self.table, name, self.plan)
        if typing.get_origin(hint) is tuple:
            if choices is None:
                return Lines(required=False, **said)
            return forms.MultipleChoiceField(
                choices=choices, required=False, widget=forms.CheckboxSelectMultiple, **said
            )
        if hint is bool:
            return forms.BooleanField(required=False, **said)
        if hint is int:
            return forms.IntegerField(min_value=0, max_value=LARGEST, required=needed, **said)
        if choices is not None:
            known = choices if needed else [("", "–"), *choices]
            return forms.ChoiceField(choices=known, required=needed, **said)
        widget = forms.Textarea(attrs={"rows": 3}) if name in LONG else forms.TextInput
        return forms.CharField(required=needed, max_length=LONGEST, widget=widget, **said)

    @property
    def helper(self) -> FormHelper:
        """Laid out in our look."""
        helper = FormHelper()
        parts = [
            Many(name) if isinstance(field, forms.MultipleChoiceField) else name for name, field in self.fields.items()
        ]
        helper.layout = Layout(*parts, ActionBar(_("Save"), _("Back"), out_url=self.out_url))
        return helper

    def value_of(self, prefix: str) -> Any:
        """The row that was typed, as its class. Raises PlanError when it is none."""
        return build(self.kinds[prefix], self._plain(prefix, self.kinds[prefix]), prefix.rstrip("_"))

    def _plain(self, prefix: str, kind: type[Any]) -> dict[str, Any]:
        hints = hints_of(kind)
        values: dict[str, Any] = {}
        for one in fields(kind):
            if is_dataclass(hints[one.name]):
                values[one.name] = self._plain(f"{one.name}_", typing.cast(type[Any], hints[one.name]))
                continue
            said = self.cleaned_data[f"{prefix}{one.name}"]
            if said is None or (said == "" and hints[one.name] is not str):
                said = 0 if one.default is MISSING else one.default
            values[one.name] = said
        return values

    def refuse(self, error: ValidationError | PlanError) -> None:
        """Show what was refused beside its field when the form has it."""
        if isinstance(error, PlanError):
            self.add_error(None, str(error))
            return
        for name, sentences in error.message_dict.items():
            self.add_error(name if name in self.fields else None, sentences)


def row_form(data: Any, *, table: str, kind: type[Any], value: Any, plan: Plan, out_url: str) -> RowForm:
    """The form of one row; `value` is the row as it stands, or None for a new one."""
    said = {} if value is None else _flat(to_json(value))
    form = RowForm(data, table=table, kinds={"": kind}, value=said, plan=plan, out_url=out_url)
    if value is not None and "key" in form.fields:
        form.fields["key"].disabled = True  # what stays the same across versions is never changed
    return form


def header_form(data: Any, *, title: str, header: PlantHeader, settings: Settings, plan: Plan, out_url: str) -> RowForm:
    """The form of a draft's title, plant and settings."""
    said = {"title": title} | to_json(header)
    said |= {f"settings_{name}": value for name, value in to_json(settings).items()}
    kinds: dict[str, type[Any]] = {"": PlantHeader, "settings_": Settings}
    form = RowForm(data, table="header", kinds=kinds, value=said, plan=plan, out_url=out_url)
    form.fields = {"title": forms.CharField(label=label_of("title"), max_length=200), **form.fields}
    form.fields["name"].label = label_of("plant_name")
    for name in to_json(settings):
        form.fields[f"settings_{name}"].label = label_of(name)
    return form


def _flat(value: dict[str, Any]) -> dict[str, Any]:
    """Nested tables as prefixed names: answer.kind is answer_kind."""
    flat: dict[str, Any] = {}
    for name, said in value.items():
        if isinstance(said, dict):
            flat |= {f"{name}_{inner}": part for inner, part in said.items()}
        else:
            flat[name] = said
    return flat


class ConfirmForm(forms.Form):
    """The qualified individual's reason for a limit laxer than a row that nobody read in full."""

    reason = forms.CharField(label=_("Why it is right all the same"), max_length=2000, widget=forms.Textarea)

    def __init__(self, data: Any, *, out_url: str) -> None:
        super().__init__(data)
        self.out_url = out_url

    @property
    def helper(self) -> FormHelper:
        """Laid out in our look."""
        helper = FormHelper()
        helper.layout = Layout("reason", ActionBar(_("Confirm"), _("Back"), out_url=self.out_url))
        return helper
