"""What a person may type of a run. Forms only parse; the acts decide."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Field, Row
from django import forms
from django.utils.translation import gettext as _

from plant.forms.layout import ActionBar
from plant.hazard_plan.content import Plan
from records.flow import choices
from records.flow.fields import choice, note, words
from records.flow.forms import BEGINS_NOW, FlowForm, helper
from records.runs import words as said
from records.runs.actions import NEEDS_WORDS
from records.runs.data import EventData, OutData, ProductData, StartData
from records.runs.models import OPENED, SET_UP
from records.runs.queries import EndedElsewhere, Run, ended_elsewhere


def chart_number() -> forms.Field:
    """The number on the recorder's chart."""
    return words(_("Number written on the chart"), 60, help_text=_("The paper chart stays the legal record."))


class RunForm(FlowForm):
    """A form of one press's run."""

    use_required_attribute = False  # our own sentence beside the field, not the browser's

    def __init__(self, *args: Any, place: str, run: Run | None = None, **options: Any) -> None:
        self.place, self.run = place, run
        super().__init__(*args, **options)

    def when(self, label: Any) -> None:
        self.fields["happened_at"] = self.time(label)
        self.initial.setdefault("happened_at", self.now)

    def set_ups(self) -> list[tuple[str, str]]:
        """The plan's set-ups of this press, each with its set point and the classes that it covers."""
        return [
            (one.key, f"{one.name}, {one.set_point} {one.unit} ({', '.join(one.classes)})")
            for one in self.in_force.plan.set_ups
            if one.press == self.place
        ]

    def ask_set_up(self) -> None:
        self.fields["set_up"] = choice(_("Set-up"), self.set_ups(), radio=True)

    def ask_product(self, plan: Plan) -> None:
        self.fields["product"] = choice(_("Product"), [("", "—"), *choices.products(plan)])


class StartForm(RunForm):
    """A start begun: set-up, product, chart."""

    def build(self, plan: Plan) -> None:
        self.when(_("Begun at"))
        self.ask_set_up()
        self.ask_product(plan)
        self.fields["chart_number"] = chart_number()
        self.fields["words"] = note(_("Note"))

    def layout(self) -> FormHelper:
        return helper(
            "form_id", "set_up", Row(Field("product"), Field("chart_number")), "happened_at", "words",
            ActionBar(_("Begin the start")),
        )  # fmt: skip

    def start(self) -> StartData:
        """What was typed, as the act takes it."""
        said = self.cleaned_data
        return StartData(
            said["form_id"], self.place, said["set_up"], said["product"], said["happened_at"],
            said["chart_number"], said["words"],
        )  # fmt: skip


class EventForm(RunForm):
    """One thing that happened; which one comes with the address."""

    what = ""

    def __init__(self, *args: Any, what: str, **options: Any) -> None:
        self.what = what
        super().__init__(*args, **options)

    def build(self, plan: Plan) -> None:
        self.when(_("At"))
        if self.what in (SET_UP, OPENED):
            self.ask_set_up()
            self.ask_product(plan)
            if self.what == SET_UP:
                self.fields["product"].label = _("Product that comes next")
        if self.what == OPENED:
            self.fields["chart_number"] = chart_number()
        self.fields["words"] = note(said.words_label(self.what), required=self.what in NEEDS_WORDS)

    def layout(self) -> FormHelper:
        return helper("form_id", "happened_at", *self.asked(), ActionBar(_("It happened: record it")))

    def asked(self) -> list[str]:
        """The fields of this event beside its time, in order."""
        return [name for name in ("set_up", "product", "chart_number", "words") if name in self.fields]

    def event(self, run: int) -> EventData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        return EventData(
            given["form_id"], run, self.what, given["happened_at"], given["words"], given.get("set_up", ""),
            given.get("product", ""), given.get("chart_number", ""),
        )  # fmt: skip


class AmendForm(EventForm):
    """An event as it should have been said, or that it did not happen; and why."""

    def build(self, plan: Plan) -> None:
        super().build(plan)
        self.fields["reason"] = words(_("Why it is amended"), 400, required=True)
        self.fields["void"] = forms.BooleanField(label=_("It did not happen"), required=False)

    def layout(self) -> FormHelper:
        return helper("form_id", "happened_at", *self.asked(), "reason", "void", ActionBar(_("Amend it")))


class _Quantity(RunForm):
    """The end of the product that runs, with how much it was."""

    ended: EndedElsewhere | None = None

    def ask_end(self) -> None:
        """The amount, but where it was recorded with the movement already: then only the rest is asked."""
        self.ended = ended_elsewhere(self.run, self.now) if self.run is not None else None
        if self.ended is not None:
            self.initial["happened_at"] = self.ended.ended_at
            return
        self.quantity_fields()
        self.fields["emptied"] = forms.BooleanField(label=_("That emptied the vessel it came from"), required=False)

    def end_layout(self) -> list[Any]:
        return [] if self.ended is not None else [self.quantity_layout(), "emptied"]

    def check_end(self) -> None:
        if self.ended is None:
            self.check_quantity(wanted=True)

    def end_data(self) -> dict[str, Any]:
        if self.ended is not None:
            return {}
        return {**self.quantity_data(), "emptied": self.cleaned_data["emptied"]}


class ProductForm(_Quantity):
    """Product instead of water, or after another product."""

    def build(self, plan: Plan) -> None:
        assert self.run is not None  # only of a run
        holders = [one for one in choices.places(plan) if one[0] != choices.OUTSIDE]
        self.ask_product(plan)
        self.initial.setdefault("product", self.run.first.product)
        self.fields["source"] = choice(_("From"), holders)
        self.fields["target"] = choice(_("Into"), holders)
        self.when(_("Product reached the diversion device at"))
        self.fields["words"] = words(
            _("Where the mixture went"), 120, help_text=_("Of water and product, or of both products.")
        )
        self.running = self.run.movement_at(self.now) is not None
        if self.running:
            self.ask_end()

    def layout(self) -> FormHelper:
        parts: list[Any] = ["form_id", "product", Row(Field("source"), Field("target")), "happened_at", "words"]
        if self.running:
            parts += self.end_layout()
        return helper(*parts, ActionBar(_("It happened: record it"), _("It begins now"), out_name=BEGINS_NOW))

    def clean(self) -> dict[str, Any]:
        data = self.cleaned_data
        if "source" in data and data.get("source") == data.get("target"):
            self.add_error("target", _("It cannot go into the vessel that it comes from."))
        if self.running:
            self.check_end()
        return data

    def product(self, run: int, *, begins_now: bool) -> ProductData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        end = self.end_data() if self.running else {}
        return ProductData(
            given["form_id"], run, given["product"], given["source"], given["target"], given["happened_at"],
            given["words"], begins_now, **end,
        )  # fmt: skip


class OutForm(_Quantity):
    """Water after the product."""

    def build(self, plan: Plan) -> None:
        self.when(_("Water followed the product at"))
        self.ask_end()
        self.fields["words"] = words(_("Where the mixture went"), 120)

    def layout(self) -> FormHelper:
        return helper(
            "form_id", "happened_at", *self.end_layout(), "words", ActionBar(_("It happened: record it"))
        )

    def clean(self) -> dict[str, Any]:
        self.check_end()
        return self.cleaned_data

    def out(self, run: int) -> OutData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        return OutData(given["form_id"], run, given["happened_at"], given["words"], **self.end_data())


__all__ = ["AmendForm", "EventForm", "OutForm", "ProductForm", "StartForm"]
