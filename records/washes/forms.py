"""What a person may type of a wash by a program. Forms only parse; the acts decide."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Field, Fieldset, Row
from django import forms
from django.utils.translation import gettext as _

from plant.forms.layout import ActionBar, Figure, YesNo
from plant.hazard_plan.content import Plan, WashStepDef
from records.flow.fields import choice, note, words
from records.flow.forms import FlowForm, ask_parted, helper, parted_layout
from records.flow.joined import NO, YES
from records.flow.programs import INSPECT
from records.washes import state
from records.washes.data import ProgramWashData, StepData
from records.washes.words import limits_words, step_words

_FIGURES = ("temperature", "strength", "flow")


class ProgramForm(FlowForm):
    """The steps of a program as a short table; a step whose two times are empty was not done."""

    use_required_attribute = False  # our own sentence beside the field, not the browser's

    def __init__(self, *args: Any, program: str, place: str, **options: Any) -> None:
        self.program, self.place = program, place
        super().__init__(*args, **options)

    def build(self, plan: Plan) -> None:
        self.planned = state.program(plan, self.program)
        for at, one in enumerate(self.planned, 1):
            step_fields(self, one, f"_{at}", required=False)
        self.fields["was_empty"] = forms.BooleanField(label=_("It was empty when the wash began"), required=False)
        ask_parted(self, self.place)
        self.fields["note"] = note(_("Note"))

    def layout(self) -> FormHelper:
        rows = [
            Fieldset(f"{at}. {step_words(one.step)}: {limits_words(one)}", *step_layout(self, one, f"_{at}"))
            for at, one in enumerate(self.planned, 1)
        ]
        last = ("was_empty", *parted_layout(self), "note", ActionBar(_("Record it")))
        return helper("form_id", *rows, *last)

    def clean(self) -> dict[str, Any]:
        data = self.cleaned_data
        for at in range(1, len(self.planned) + 1):
            times = [data.get(f"started_{at}"), data.get(f"ended_{at}")]
            said = [data.get(f"{name}_{at}") for name in (*_FIGURES, "strip_lot", "strip_expires", "looked")]
            for name, moment in zip(("started", "ended"), times, strict=True):
                if moment is None and f"{name}_{at}" not in self.errors and any((*times, *said)):
                    self.add_error(f"{name}_{at}", _("Enter when."))
        return data

    def wash(self, vessel: str) -> ProgramWashData:
        """What was typed, as the act takes it."""
        data = self.cleaned_data
        done = [at for at in range(1, len(self.planned) + 1) if data[f"started_{at}"]]
        steps = tuple(step_data(data, at, f"_{at}") for at in done)
        parted = data.get("parted", "")
        return ProgramWashData(data["form_id"], vessel, self.program, steps, data["was_empty"], data["note"], parted)


class AmendForm(FlowForm):
    """One step as it should have been said."""

    use_required_attribute = False

    def __init__(self, *args: Any, step: WashStepDef, **options: Any) -> None:
        self.step = step
        super().__init__(*args, **options)

    def build(self, plan: Plan) -> None:
        step_fields(self, self.step, "", required=True)
        self.fields["reason"] = words(_("Why it is amended"), 400, required=True)
        self.fields["void"] = forms.BooleanField(label=_("It did not happen"), required=False)

    def layout(self) -> FormHelper:
        return helper("form_id", *step_layout(self, self.step, ""), "reason", "void", ActionBar(_("Amend it")))


def step_fields(form: FlowForm, one: WashStepDef, at: str, *, required: bool) -> None:
    """The fields of one step; strength is asked where the program names its unit."""
    form.fields[f"started{at}"] = form.time(_("Started"), required=required)
    form.fields[f"ended{at}"] = form.time(_("Ended"), required=required)
    outlet = _("Temperature of the solution") if one.way else _("Temperature at the outlet")
    form.fields[f"temperature{at}"] = form.number(outlet)
    form.fields[f"strength{at}"] = form.number(_("Strength"))
    form.fields[f"flow{at}"] = form.number(_("Flow"))
    for name in set(_FIGURES) - set(_asked(one)):
        form.fields[f"{name}{at}"].widget = forms.HiddenInput()
    if one.strips:
        form.fields[f"strip_lot{at}"] = words(_("Lot of the test strips"), 60)
        form.fields[f"strip_expires{at}"] = forms.DateField(
            label=_("Test strips good until"), required=False, widget=forms.DateInput(attrs={"type": "date"}),
            error_messages={"invalid": _("Write the day as 2026-03-03.")},
        )  # fmt: skip
    if one.step == INSPECT:
        form.fields[f"looked{at}"] = choice(
            _("Looked at: was it found clean?"), [(YES, _("yes")), (NO, _("no"))], required=False, radio=True
        )


def _asked(one: WashStepDef) -> list[str]:
    """The figures that a step is asked for: none of a look, no flow of what is washed by hand or out of place."""
    if one.step == INSPECT:
        return []
    return ["temperature", *(["strength"] if one.strength_unit else []), *([] if one.way else ["flow"])]


def step_layout(form: FlowForm, one: WashStepDef, at: str) -> list[Any]:
    """Two times, then the figures with their units."""
    asked, flow_unit = _asked(one), f"{form.in_force.plan.plant.volume_unit}/min"
    units = {"temperature": one.unit, "strength": one.strength_unit, "flow": flow_unit}
    figures = [Row(*(Figure(f"{name}{at}", units[name]) for name in asked))] if asked else []
    strips = [Row(Field(f"strip_lot{at}"), Field(f"strip_expires{at}"))] if one.strips else []
    looked = [YesNo(f"looked{at}")] if one.step == INSPECT else []
    hidden = [f"{name}{at}" for name in _FIGURES if name not in asked]
    return [Row(Field(f"started{at}"), Field(f"ended{at}")), *figures, *strips, *looked, *hidden]


def step_data(data: dict[str, Any], place_in: int, at: str) -> StepData:
    """One step as the act takes it."""
    figures = {name: data[f"{name}{at}"] for name in _FIGURES}
    return StepData(
        place_in,
        data[f"started{at}"],
        data[f"ended{at}"],
        **figures,
        strip_lot=data.get(f"strip_lot{at}", ""),
        strip_expires=data.get(f"strip_expires{at}"),
        looked=data.get(f"looked{at}", ""),
    )
