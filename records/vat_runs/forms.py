"""What a person may type of a vat's run. Forms only parse; the acts decide."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Field, Row
from django import forms
from django.utils.translation import gettext as _

from plant.forms.layout import ActionBar, BigNumber, Figure
from plant.hazard_plan.content import Plan
from plant.process.units import CELSIUS, FAHRENHEIT
from records.flow import choices
from records.flow.fields import choice, note, words
from records.flow.forms import BEGINS_NOW, FlowForm, helper
from records.vat_runs import words as said
from records.vat_runs.actions import NEEDS_WORDS
from records.vat_runs.data import BeginData, OpenData, SayData, ShutData
from records.vat_runs.models import HOLD_BEGUN, HOLD_ENDED, LOOKS, NO, NOT_SEEN, WITH_READINGS, YES
from records.vat_runs.state import look_words


class RunForm(FlowForm):
    """A form of one vat's run."""

    use_required_attribute = False  # our own sentence beside the field, not the browser's

    def __init__(self, *args: Any, place: str, **options: Any) -> None:
        self.place = place
        super().__init__(*args, **options)

    def when(self, label: Any) -> None:
        self.fields["happened_at"] = self.time(label)
        self.initial.setdefault("happened_at", self.now)


class BeginForm(RunForm):
    """A run begun."""

    def build(self, plan: Plan) -> None:
        self.fields["product"] = choice(_("Product"), [("", "—"), *choices.products(plan)])
        self.fields["chart_number"] = words(
            _("Number written on the chart"), 60, help_text=_("The paper chart stays the legal record.")
        )
        self.when(_("Begun at"))
        self.fields["words"] = note(_("Note"))

    def layout(self) -> FormHelper:
        return helper(
            "form_id", Row(Field("product"), Field("chart_number")), "happened_at", "words",
            ActionBar(_("Begin the run")),
        )  # fmt: skip

    def begin(self) -> BeginData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        return BeginData(
            given["form_id"], self.place, given["product"], given["happened_at"], given["chart_number"], given["words"]
        )


class SayForm(RunForm):
    """One thing that happened; which one comes with the address."""

    def __init__(self, *args: Any, what: str, **options: Any) -> None:
        self.what = what
        super().__init__(*args, **options)

    def build(self, plan: Plan) -> None:
        label = {HOLD_BEGUN: _("Hold begun at"), HOLD_ENDED: _("Hold ended at")}.get(self.what, _("At"))
        self.when(label)
        self.parts: list[Any] = []
        if self.what in WITH_READINGS:
            self._ask_temperatures(plan)
        if self.what == HOLD_BEGUN:
            answers = [(one, said.answer_words(one)) for one in (YES, NO, NOT_SEEN)]
            for look in LOOKS:
                self.fields[look] = choice(look_words(look), answers, radio=True)
            self.parts += list(LOOKS)
        if self.what == HOLD_ENDED:
            self.fields["fill_min"] = self.number(
                _("Minutes to fill, from the bulb up, where product came in hot"),
                help_text=_("0 where it does not apply."),
            )
            self.fields["empty_min"] = self.number(
                _("Minutes to empty, down to the bulb, where it cools only after the outlet opens"),
                help_text=_("0 where it does not apply."),
            )
            self.parts += [Row(Figure("fill_min", "min"), Figure("empty_min", "min"))]
        self.fields["words"] = note(said.words_label(self.what), required=self.what in NEEDS_WORDS)

    def _ask_temperatures(self, plan: Plan) -> None:
        own = f"°{plan.plant.temperature_unit}"
        units = dict.fromkeys((own, FAHRENHEIT, CELSIUS)) if own in (FAHRENHEIT, CELSIUS) else (FAHRENHEIT, CELSIUS)
        self.fields["indicating"] = self.number(_("Indicating thermometer"))
        self.fields["unit"] = choice(_("Unit"), [(one, one) for one in units])
        self.fields["recording"] = self.number(_("Recorder"))
        self.fields["air_space"] = self.number(_("Air space"))
        for name in ("indicating", "recording", "air_space"):
            self.fields[name].may_be_negative = True  # type: ignore[attr-defined]
        self.parts = [BigNumber("indicating", unit_field="unit"), Row(Figure("recording"), Figure("air_space"))]

    def layout(self) -> FormHelper:
        return helper("form_id", "happened_at", *self.parts, "words", ActionBar(_("It happened: record it")))

    def said(self, run: int) -> SayData:
        """What was typed, as the act takes it."""
        given = {name: value for name, value in self.cleaned_data.items() if name in SayData.__dataclass_fields__}
        return SayData(run=run, what=self.what, **given)


class AmendForm(SayForm):
    """An event as it should have been said, or that it did not happen; and why."""

    def build(self, plan: Plan) -> None:
        super().build(plan)
        self.fields["reason"] = words(_("Why it is amended"), 400, required=True)
        self.fields["void"] = forms.BooleanField(label=_("It did not happen"), required=False)

    def layout(self) -> FormHelper:
        return helper("form_id", "happened_at", *self.parts, "words", "reason", "void", ActionBar(_("Amend it")))


class OpenForm(RunForm):
    """The outlet opened."""

    def build(self, plan: Plan) -> None:
        holders = [one for one in choices.places(plan) if one[0] not in (choices.OUTSIDE, self.place)]
        self.fields["target"] = choice(_("Into"), holders)
        through: list[tuple[str, Any]] = [("", _("nothing: straight across")), *choices.lines(plan)]
        self.fields["via"] = choice(_("Through"), through, required=False)
        self.when(_("Outlet opened at"))
        self.fields["words"] = note(_("Note"))

    def layout(self) -> FormHelper:
        return helper(
            "form_id", Row(Field("target"), Field("via")), "happened_at", "words",
            ActionBar(_("It happened: record it"), _("It begins now"), out_name=BEGINS_NOW),
        )  # fmt: skip

    def opened(self, run: int, *, begins_now: bool) -> OpenData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        return OpenData(
            given["form_id"], run, given["target"], given["happened_at"], given["via"], given["words"], begins_now
        )


class ShutForm(RunForm):
    """The outlet shut."""

    def build(self, plan: Plan) -> None:
        self.when(_("Outlet shut at"))
        self.quantity_fields()
        self.fields["emptied"] = forms.BooleanField(label=_("That emptied the vat"), required=False)
        self.fields["words"] = note(_("Note"))

    def layout(self) -> FormHelper:
        return helper(
            "form_id", self.quantity_layout(), "emptied", "happened_at", "words", ActionBar(_("It happened: record it"))
        )

    def clean(self) -> dict[str, Any]:
        self.check_quantity(wanted=True)
        return self.cleaned_data

    def shut(self, run: int) -> ShutData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        return ShutData(
            given["form_id"], run, given["happened_at"], given["words"], emptied=given["emptied"],
            **self.quantity_data(),
        )  # fmt: skip


__all__ = ["AmendForm", "BeginForm", "OpenForm", "SayForm", "ShutForm"]
