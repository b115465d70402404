"""What a person may type of a freezer's run. Forms only parse; the acts decide."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Field, Row
from django import forms
from django.utils.translation import gettext as _

from plant.forms.layout import ActionBar, BigNumber, Figure
from plant.hazard_plan.content import Plan
from records.flow import choices
from records.flow.fields import choice, note, words
from records.flow.forms import BEGINS_NOW, FlowForm, helper
from records.freezer_runs import state
from records.freezer_runs import words as said
from records.freezer_runs.cup import LEAST_CLAUSE, LEAST_LB_GAL
from records.freezer_runs.data import BeginData, DrawData, DrawnData, SayData
from records.freezer_runs.filling import MASSES, NEEDS_WORDS
from records.freezer_runs.models import BECAME, CUP, DRAW, FED, FIRST, FIRST_RIGHT, HARDENING, PURGED


class RunForm(FlowForm):
    """A form of one freezer's run."""

    use_required_attribute = False  # our own sentence beside the field, not the browser's

    def __init__(self, *args: Any, place: str, **options: Any) -> None:
        self.place = place
        super().__init__(*args, **options)

    def when(self, label: Any) -> None:
        self.fields["happened_at"] = self.time(label)
        self.initial.setdefault("happened_at", self.now)

    def ask_product(self, plan: Plan) -> None:
        self.fields["product"] = choice(_("Product"), [("", "—"), *choices.products(plan)])


class BeginForm(RunForm):
    """A run begun."""

    def build(self, plan: Plan) -> None:
        self.ask_product(plan)
        self.when(_("Begun at"))
        self.fields["words"] = note(_("Note"))

    def layout(self) -> FormHelper:
        return helper("form_id", "product", "happened_at", "words", ActionBar(_("Begin the run")))

    def begin(self) -> BeginData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        return BeginData(given["form_id"], self.place, given["product"], given["happened_at"], given["words"])


class SayForm(RunForm):
    """One thing that happened; which one comes with the address."""

    def __init__(self, *args: Any, what: str, **options: Any) -> None:
        self.what = what
        super().__init__(*args, **options)

    def build(self, plan: Plan) -> None:
        self.when(_("At"))
        asks = {
            PURGED: self._ask_purged, FIRST_RIGHT: self._ask_first, DRAW: self._ask_draw, CUP: self._ask_cup,
            FED: self._ask_fed, HARDENING: self._ask_hardening,
        }  # fmt: skip
        self.parts: list[Any] = []
        if self.what in asks:
            asks[self.what]()
        self.fields["words"] = note(said.words_label(self.what), required=self.what in NEEDS_WORDS)

    def _became(self, *, required: bool) -> None:
        became = [(one, said.became_words(one)) for one in BECAME]
        none = [] if required else [("", _("none were set aside"))]
        self.fields["became"] = choice(_("What became of it"), none + became, required=required, radio=True)
        most = self.in_force.plan.settings.rework_h
        self.fields["use_within_h"] = forms.CharField(
            label=_("If rework: hours in which it has to be used"),
            required=False,
            max_length=10,
            help_text=_("The plan allows %(hours)d h at most; empty takes these.") % {"hours": most} if most else "",
        )

    def _ask_purged(self) -> None:
        self.fields["amount"] = self.number(_("How much was purged"))
        self.fields["unit"] = choice(_("Unit"), self.units())
        self._became(required=True)
        self.parts = [BigNumber("amount", unit_field="unit"), "became", Figure("use_within_h", "h")]

    def _ask_first(self) -> None:
        about = [(one, state.about_words(one)) for one in FIRST]
        self.fields["about"] = choice(_("What is right from here on"), about, radio=True)
        self.fields["tubs"] = _count(_("Tubs set aside before it"))
        self._became(required=False)
        self.fields["amount"] = self.number(_("If rework: how much the tubs hold together"))
        self.fields["unit"] = choice(_("Unit"), self.units(), required=False)
        self.parts = [
            "about", BigNumber("tubs"), "became", Figure("use_within_h", "h"), Figure("amount", unit_field="unit"),
        ]  # fmt: skip

    def _ask_draw(self) -> None:
        self.fields["amount"] = self.number(_("Draw temperature"), required=True)
        self.fields["amount"].may_be_negative = True  # type: ignore[attr-defined]
        check = state.check_of(state.DRAW_QUANTITY, self.place, self.in_force)
        unit = check.answer.unit if check is not None else f"°{self.in_force.plan.plant.temperature_unit}"
        self.parts = [BigNumber("amount", unit)]
        if check is not None and check.instruments:
            names = {one.code: one.name for one in self.in_force.plan.instruments}
            read = [(one, f"{names.get(one, one)} ({one})") for one in check.instruments]
            self.fields["instrument"] = choice(_("Instrument that was read"), read)
            self.parts.append("instrument")

    def _ask_cup(self) -> None:
        self.fields["cup_empty"] = self.number(_("Empty cup"), required=True)
        self.fields["cup_mix"] = self.number(_("Cup level full of mix"), required=True)
        self.fields["cup_product"] = self.number(_("Same cup level full of ice cream"), required=True)
        self.fields["mass_unit"] = choice(_("Unit"), [(one, one) for one in MASSES])
        words_of = {"least": LEAST_LB_GAL, "clause": LEAST_CLAUSE}
        self.fields["mix_lb_gal"] = self.number(
            _("Weight of a gallon of the mix"),
            help_text=_("Then the weight of a gallon is computed: %(least)s lb at least (%(clause)s).") % words_of,
        )
        self.parts = [
            BigNumber("cup_product", unit_field="mass_unit"), Row(Figure("cup_mix"), Figure("cup_empty")),
            Figure("mix_lb_gal", "lb/gal"),
        ]  # fmt: skip

    def _ask_fed(self) -> None:
        self.fields["ingredient"] = words(_("Ingredient, as on its label"), 120, required=True)
        self.fields["lot_code"] = words(_("Lot, from the label"), 60, required=True)
        known = {one for product in self.in_force.plan.products for one in product.allergens}
        every = dict.fromkeys((*said.ALLERGENS, *sorted(known)))
        self.fields["allergens"] = forms.MultipleChoiceField(
            label=_("Allergens, as on its label"),
            choices=[(one, said.allergen_words(one)) for one in every],
            widget=forms.CheckboxSelectMultiple,
            required=False,
        )
        self.fields["no_allergens"] = forms.BooleanField(label=_("Its label names none"), required=False)
        self.fields["amount"] = self.number(_("How much was filled in"))
        self.fields["unit"] = choice(_("Unit"), [(one, one) for one in ("lb", "kg", "gal")])
        self.parts = [
            "ingredient", "lot_code", "allergens", "no_allergens", Figure("amount", unit_field="unit"),
        ]  # fmt: skip

    def _ask_hardening(self) -> None:
        self.fields["tubs"] = _count(_("Tubs"))
        self.fields["drawn_at"] = self.time(_("First of them drawn at"))
        self.fields["happened_at"].label = _("In the hardening room at")
        self.parts = [BigNumber("tubs"), "drawn_at"]

    def clean(self) -> dict[str, Any]:
        data = self.cleaned_data
        if self.what == FED:
            if data.get("allergens") and data.get("no_allergens"):
                self.add_error("no_allergens", _("There are allergens ticked above. Take them out, or this tick."))
            elif not data.get("allergens") and not data.get("no_allergens"):
                self.add_error("allergens", _("Tick each allergen on its label, or that it names none."))
        return data

    def layout(self) -> FormHelper:
        return helper("form_id", *self.parts, "happened_at", "words", ActionBar(_("It happened: record it")))

    def said(self, run: int) -> SayData:
        """What was typed, as the act takes it."""
        given = {name: value for name, value in self.cleaned_data.items() if name in SayData.__dataclass_fields__}
        if "allergens" in given:
            given["allergens"] = tuple(given["allergens"])
        return SayData(run=run, what=self.what, **given)


class AmendForm(SayForm):
    """An event as it should have been said, or that it did not happen; and why."""

    def build(self, plan: Plan) -> None:
        super().build(plan)
        self.fields["reason"] = words(_("Why it is amended"), 400, required=True)
        self.fields["void"] = forms.BooleanField(label=_("It did not happen"), required=False)

    def layout(self) -> FormHelper:
        return helper("form_id", *self.parts, "happened_at", "words", "reason", "void", ActionBar(_("Amend it")))


class DrawForm(RunForm):
    """The draw of a product."""

    def build(self, plan: Plan) -> None:
        holders = [one for one in choices.places(plan) if one[0] != choices.OUTSIDE]
        self.ask_product(plan)
        self.fields["source"] = choice(_("From"), holders)
        self.fields["target"] = choice(_("Into"), holders)
        self.when(_("Draw begun at"))
        self.fields["words"] = note(_("Note"))

    def layout(self) -> FormHelper:
        return helper(
            "form_id", "product", Row(Field("source"), Field("target")), "happened_at", "words",
            ActionBar(_("It happened: record it"), _("It begins now"), out_name=BEGINS_NOW),
        )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        data = self.cleaned_data
        if data.get("source") and data.get("source") == data.get("target"):
            self.add_error("target", _("It cannot go into the vessel that it comes from."))
        return data

    def draw(self, run: int, *, begins_now: bool) -> DrawData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        return DrawData(
            given["form_id"], run, given["product"], given["source"], given["target"], given["happened_at"],
            given["words"], begins_now,
        )  # fmt: skip


class DrawnForm(RunForm):
    """The draw ended."""

    def build(self, plan: Plan) -> None:
        self.when(_("Draw ended at"))
        self.fields["tubs"] = _count(_("Tubs made"))
        self.quantity_fields()
        self.fields["emptied"] = forms.BooleanField(label=_("That emptied the vessel it came from"), required=False)
        self.fields["words"] = note(_("Note"))

    def layout(self) -> FormHelper:
        return helper(
            "form_id", BigNumber("tubs"), self.quantity_layout(), "emptied", "happened_at", "words",
            ActionBar(_("It happened: record it")),
        )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        self.check_quantity(wanted=True)
        return self.cleaned_data

    def drawn(self, run: int) -> DrawnData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        return DrawnData(
            given["form_id"], run, given["happened_at"], given["tubs"], given["words"],
            emptied=given["emptied"], **self.quantity_data(),
        )  # fmt: skip


def _count(label: Any) -> forms.CharField:
    return forms.CharField(label=label, max_length=10, error_messages={"required": _("Enter how many tubs.")})


__all__ = ["AmendForm", "BeginForm", "DrawForm", "DrawnForm", "SayForm"]
