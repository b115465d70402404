"""What a person may type of a wash by a program. Forms only parse; the acts decide."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Field, Fieldset, Row
from django import forms
from django.utils.translation import gettext as _

from plant.forms.layout import ActionBar, Figure
from plant.hazard_plan.content import Plan, WashStepDef
from records.flow.fields import note, words
from records.flow.forms import FlowForm, ask_parted, helper, parted_layout
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
            said = [data.get(f"{name}_{at}") for name in _FIGURES]
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
    form.fields[f"temperature{at}"] = form.number(_("Temperature at the outlet"))
    form.fields[f"strength{at}"] = form.number(_("Strength"))
    if not one.strength_unit:
        form.fields[f"strength{at}"].widget = forms.HiddenInput()
    form.fields[f"flow{at}"] = form.number(_("Flow"))


def step_layout(form: FlowForm, one: WashStepDef, at: str) -> list[Any]:
    """Two times, then the figures with their units."""
    flow = Figure(f"flow{at}", f"{form.in_force.plan.plant.volume_unit}/min")
    strength = [Figure(f"strength{at}", one.strength_unit)] if one.strength_unit else []
    figures = Row(Figure(f"temperature{at}", one.unit), *strength, flow)
    hidden = [] if one.strength_unit else [f"strength{at}"]
    return [Row(Field(f"started{at}"), Field(f"ended{at}")), figures, *hidden]


def step_data(data: dict[str, Any], place_in: int, at: str) -> StepData:
    """One step as the act takes it."""
    return StepData(place_in, data[f"started{at}"], data[f"ended{at}"], *(data[f"{name}{at}"] for name in _FIGURES))
