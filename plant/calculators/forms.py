"""A calculator's form: one field for each thing that it asks, a number with its unit beside it."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Layout
from django import forms
from django.utils.translation import gettext_lazy as _

from plant.calculators.typed import in_words, read
from plant.calculators.working import Ask, Calculator
from plant.forms.layout import ActionBar, Figure

UNIT = "{name}_unit"


class CalculatorForm(forms.Form):
    """What a person typed for one calculator. `values` holds what was read, once the form is valid."""

    values: dict[str, Any]

    def __init__(self, calculator: Calculator, *args: Any, decimal_mark: str = ".", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.calculator, self.decimal_mark = calculator, decimal_mark
        for ask in calculator.asks:
            self.fields[ask.name] = _field(ask)
            if ask.kind == "quantity" and len(ask.units) > 1:
                self.fields[UNIT.format(name=ask.name)] = _unit(ask)
        self.helper = FormHelper()
        self.helper.form_method = "get"
        self.helper.form_tag = True
        self.helper.disable_csrf = True
        self.helper.form_error_title = _("It cannot be worked yet")
        self.helper.layout = Layout(*(part for ask in calculator.asks for part in _placed(ask)), ActionBar(_("Work")))

    @classmethod
    def of_the_example(cls, calculator: Calculator) -> CalculatorForm:
        """The form filled in with the calculator's example."""
        given = given_for(calculator, {})
        return cls(calculator, given)

    def clean(self) -> dict[str, Any]:
        """Read each field as the command does; a fault stands beside its field."""
        given = super().clean() or {}
        typed: dict[str, str] = {}
        for ask in self.calculator.asks:
            text = str(given.get(ask.name) or "").strip()
            unit = str(given.get(UNIT.format(name=ask.name)) or "")
            typed[ask.name] = f"{text} {unit}".strip() if text else ""
        self.values, wrong = read(self.calculator, typed, self.decimal_mark)
        for name, error in wrong.items():
            if name not in self.errors:
                self.add_error(name, in_words(error.sentence))
        return given


def given_for(calculator: Calculator, known: dict[str, str]) -> dict[str, str]:
    """The form's fields with what is known, each as a person would type it ("39.5 °F"), the rest from the example."""
    given: dict[str, str] = {}
    for ask in calculator.asks:
        given[ask.name] = known.get(ask.name, ask.shown())
        if ask.kind == "quantity":
            number, _space, unit = given[ask.name].partition(" ")
            given[ask.name] = number
            given[UNIT.format(name=ask.name)] = unit if unit in ask.units else ask.units[0]
    return given


def _field(ask: Ask) -> forms.Field:
    words: dict[str, Any] = {"label": ask.label, "help_text": ask.help, "required": ask.required}
    if ask.kind == "choice":
        empty = [] if ask.required else [("", "—")]
        return forms.ChoiceField(choices=[*empty, *ask.choices], **words)
    if ask.kind == "rows":
        columns = "; ".join(str(one) for one in ask.columns)
        line = _("One line for each: %(columns)s") % {"columns": columns}
        words["help_text"] = f"{line}. {ask.help}" if ask.help else line
        return forms.CharField(
            max_length=20_000, widget=forms.Textarea(attrs={"rows": 6, "spellcheck": "false"}), **words
        )
    return forms.CharField(max_length=60 if ask.kind == "quantity" else 200, **words)


def _unit(ask: Ask) -> forms.Field:
    label = _("%(what)s: unit") % {"what": ask.label}
    return forms.ChoiceField(choices=[(one, one or "—") for one in ask.units], label=label, required=False)


def _placed(ask: Ask) -> list[Any]:
    if ask.kind != "quantity":
        return [ask.name]
    if len(ask.units) == 1:
        return [Figure(ask.name, ask.units[0])]
    return [Figure(ask.name, unit_field=UNIT.format(name=ask.name))]
