"""What a person may type on the pages of dispatch and recall. Forms only parse; the acts decide."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Field, Fieldset, Row
from django import forms
from django.utils.translation import gettext as _

from plant.forms.layout import ActionBar, BigNumber
from plant.hazard_plan.content import Plan
from records.flow import choices
from records.flow.fields import PlantTime, choice, note, words
from records.flow.forms import BEGINS_NOW, DoubtedForm, FlowForm, helper
from records.people.forms import SignatureFields
from records.people.plans import InForce
from records.recall import linked
from records.recall.codes import LONGEST
from records.recall.data import DispatchData, EndData, RecallData, ReturnData, StepData
from records.recall.models import CHECK, LOCATED, NOTICE, PUBLIC, WITH_CONSIGNEE, WITH_QUANTITY
from records.recall.origins import Asked
from records.recall.state import Recall

FORWARD, BACKWARD = "on", "back"
MOCK, REAL = "rehearsal", "recall"


def signature() -> Fieldset:
    """The two components, given afresh."""
    return Fieldset(_("Your signature"), "signer", "signer_secret")


class ScopeForm(forms.Form):
    """From what a scope begins. It is read, not saved: the address of the page says it all."""

    def __init__(self, *args: Any, in_force: InForce, now: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        time: dict[str, Any] = {"calendar": in_force.calendar, "now": now, "required": False, "ahead_refused": False}
        places = [("", "—"), *choices.holders(in_force.plan), *choices.lines(in_force.plan)]
        self.fields["code"] = words(_("Code on the packs"), LONGEST)
        self.fields["entry"] = forms.IntegerField(
            label=_("or entry number"), required=False, min_value=1, max_value=2**62,
            help_text=_("of a reading, verdict, finding of a trace, movement, deviation, hold or roll opened"),
            error_messages={"invalid": _("Write the number of an entry, digits only.")},
        )  # fmt: skip
        self.fields["place"] = choice(_("or vessel or line"), places, required=False)
        self.fields["source"] = words(
            _("or source outside"), 120, help_text=_("a farm, or an ingredient with its lot, as it was recorded")
        )
        self.fields["roll"] = words(_("or roll of labels or sleeve of lids"), 60, help_text=_("its lot code"))
        self.fields["since"] = PlantTime(label=_("From"), **time)
        self.fields["until"] = PlantTime(label=_("Until"), **time)
        self.fields["lot"] = forms.UUIDField(required=False, widget=forms.HiddenInput)
        self.fields["way"] = choice(
            _("Which way"),
            [(FORWARD, _("where it went")), (BACKWARD, _("where it came from"))],
            required=False,
        )

    @property
    def helper(self) -> FormHelper:
        """Laid out by crispy-forms."""
        return helper(
            "lot",
            Fieldset(
                _("From what"),
                Row(Field("code"), Field("entry")),
                Row(Field("place"), Field("source")),
                Row(Field("roll")),
            ),
            Row(Field("since"), Field("until"), Field("way")),
            ActionBar(_("Show the scope")),
        )

    def asked(self) -> Asked:
        """What was typed, as the scope takes it."""
        given = self.cleaned_data
        return Asked(
            given["entry"], given["code"], given["lot"], given["place"], given["source"], given["since"],
            given["until"], given["roll"],
        )  # fmt: skip

    @property
    def is_backward(self) -> bool:
        """Whether it goes back to the sources."""
        return bool(self.cleaned_data.get("way") == BACKWARD)


class DispatchForm(FlowForm):
    """Packs that leave now, or have left."""

    use_required_attribute = False

    def build(self, plan: Plan) -> None:
        self.fields["code"] = words(_("Code on the packs"), LONGEST, required=True)
        self.fields["consignee"] = words(_("To whom"), 120, required=True)
        self.fields["address"] = words(_("Address"), 200, required=True)
        self.fields["phone"] = words(_("Telephone"), 60)
        self.fields["email"] = words(_("E-mail or fax"), 120, help_text=_("where they have one"))
        self.fields["carrier"] = words(
            _("Carried by"), 200, help_text=_("name, address and telephone; 'own van' where it is yours")
        )
        self.fields["dispatched_at"] = self.time(_("Left at"))
        self.initial.setdefault("dispatched_at", self.now)
        self.quantity_fields()
        for name in ("uncertainty", "measured_by"):
            del self.fields[name]
        self.fields["packed_as"] = words(_("How it is packed"), 120, help_text=_("such as 1-pint tubs, 8 to a case"))
        self.fields["note"] = note(_("Note"))

    def layout(self) -> FormHelper:
        return helper(
            "form_id", "code", "consignee", "address", Row(Field("phone"), Field("email")), "carrier", "dispatched_at",
            Fieldset(_("How much"), BigNumber("quantity", unit_field="unit"), "unknown", "packed_as"), "note",
            *self.last(),
        )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        super().clean()
        self.check_quantity(wanted=True)
        return self.cleaned_data

    def said(self, *, begins_now: bool) -> DispatchData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        amount = not given["unknown"] and given["quantity"]
        return DispatchData(
            given["form_id"], given["code"], given["consignee"], given["dispatched_at"], given["address"],
            given["phone"], given["carrier"], given["quantity"] if amount else "", given["unit"] if amount else "",
            given["note"], begins_now, given["email"], given["packed_as"],
        )  # fmt: skip

    def last(self) -> tuple[Any, ...]:
        """What stands under the fields: the two acts."""
        return (ActionBar(_("It has left: record it"), _("It leaves now"), out_name=BEGINS_NOW),)


class DispatchAmendForm(DispatchForm):
    """A dispatch as it should have been recorded; or it did not happen."""

    def build(self, plan: Plan) -> None:
        super().build(plan)
        self.fields["reason"] = note(_("Why it is amended"), required=True)
        self.fields["void"] = forms.BooleanField(label=_("It did not happen"), required=False)

    def last(self) -> tuple[Any, ...]:
        return ("reason", "void", ActionBar(_("Amend it")))


class ReturnForm(DoubtedForm):
    """Packs that came back from a customer."""

    use_required_attribute = False

    def build(self, plan: Plan) -> None:
        self.fields["code"] = words(_("Code on the packs"), LONGEST, required=True)
        self.fields["consignee"] = words(_("From whom"), 120, required=True)
        self.fields["returned_at"] = self.time(_("Came back at"))
        self.initial.setdefault("returned_at", self.now)
        self.quantity_fields()
        for name in ("uncertainty", "measured_by"):
            del self.fields[name]
        self.fields["temperature"] = self.number(
            _("Temperature of the product, %(unit)s") % {"unit": "°" + plan.plant.temperature_unit.removeprefix("°")},
            help_text=_("Empty where nobody took one."),
        )
        self.fields["condition"] = note(_("In what condition"), required=True)
        self.fields["reason"] = note(_("Why it came back"), required=True)
        self.fields["kept_where"] = words(_("Where it is kept apart, marked"), 120, required=True)
        recalls = [("", _("none")), *((str(number), words) for number, words in linked.choices(self._known()))]
        self.fields["recall"] = choice(_("Belongs to recall"), recalls, required=False)
        self.fields["note"] = note(_("Note"))
        self.ask_field()

    def _known(self) -> int | None:
        """The recall that it belongs to already, or that the address names."""
        known = str(self.initial.get("recall", ""))
        return int(known) if known.isascii() and known.isdecimal() and len(known) < 19 else None

    def layout(self) -> FormHelper:
        return helper(
            "form_id", *self.ask_layout(), Row(Field("code"), Field("consignee")), "returned_at",
            Fieldset(_("How much"), BigNumber("quantity", unit_field="unit"), "unknown"), "temperature", "condition",
            "reason", "kept_where", "recall", "note", *self.last(),
        )  # fmt: skip

    def last(self) -> tuple[Any, ...]:
        """What stands under the fields."""
        return (ActionBar(_("It came back: record it, on hold")),)

    def clean(self) -> dict[str, Any]:
        super().clean()
        self.check_quantity(wanted=True)
        return self.cleaned_data

    def said(self) -> ReturnData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        amount = not given["unknown"] and given["quantity"]
        return ReturnData(
            given["form_id"], given["code"], given["consignee"], given["returned_at"], given["condition"],
            given["reason"], given["kept_where"], given["quantity"] if amount else "", given["unit"] if amount else "",
            given["temperature"], given["note"], int(given["recall"]) if given["recall"] else None,
        )  # fmt: skip


class ReturnAmendForm(ReturnForm):
    """A return as it should have been recorded; or it did not happen. What is held stays held."""

    def build(self, plan: Plan) -> None:
        super().build(plan)
        self.fields["amend_reason"] = note(_("Why it is amended"), required=True)
        self.fields["void"] = forms.BooleanField(label=_("It did not happen"), required=False)

    def last(self) -> tuple[Any, ...]:
        return ("amend_reason", "void", ActionBar(_("Amend it")))


class RecallForm(SignatureFields, FlowForm):
    """A recall or a rehearsal begun, signed; from what comes with the address."""

    use_required_attribute = False

    def build(self, plan: Plan) -> None:
        kinds = [(MOCK, _("a rehearsal: nothing was wrong")), (REAL, _("a recall"))]
        self.fields["kind"] = choice(_("What is it"), kinds, radio=True)
        self.fields["reason"] = note(_("Why"), required=True)
        self.fields["begun_at"] = self.time(_("Begun at"))
        self.initial.setdefault("begun_at", self.now)

    def layout(self) -> FormHelper:
        return helper(
            "form_id", "kind", "reason", "begun_at", signature(), ActionBar(_("Sign: begin it, with this scope"))
        )

    @property
    def helper(self) -> FormHelper:
        """Its own layout, with the signature at its end."""
        return self.layout()

    def said(self, asked: Asked) -> RecallData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        return RecallData(given["form_id"], given["kind"] == MOCK, given["reason"], given["begun_at"], asked)


class StepForm(FlowForm):
    """One thing done; which one comes with the address."""

    use_required_attribute = False

    def __init__(self, *args: Any, what: str, recall: Recall, **options: Any) -> None:
        self.what, self.recall = what, recall
        super().__init__(*args, **options)

    def build(self, plan: Plan) -> None:
        self.parts: list[Any] = []
        self.fields["happened_at"] = self.time(_("When"))
        self.initial.setdefault("happened_at", self.now)
        if self.what in WITH_CONSIGNEE:
            self.fields["consignee"] = words(_("To or from whom"), 120, required=True)
            self.parts.append("consignee")
        if self.what in WITH_QUANTITY:
            codes = [(one.code, one.label) for one in self.recall.packs]
            self.fields["code"] = choice(_("Which packs"), [("", "—"), *codes])
            self.fields["consignee"] = words(
                _("At or from whom"), 120, help_text=_("Empty where it was in this plant.")
            )
            self.fields["quantity"] = self.number(_("Quantity"), required=True)
            self.fields["unit"] = choice(_("Unit"), self.units())
            unit = next((one.unit for one in self.recall.packs if one.unit), plan.plant.volume_unit)
            self.initial.setdefault("unit", unit)
            self.parts += ["code", "consignee", BigNumber("quantity", unit_field="unit")]
        asked = {
            CHECK: _("How it was checked, and what it showed"),
            PUBLIC: _("How the public was told, or why not"),
            NOTICE: _("How, by whom, and what was said"),
            LOCATED: _("Where, and how it was counted"),
        }
        self.fields["words"] = note(asked.get(self.what, _("Note")), required=self.what not in WITH_QUANTITY)

    def layout(self) -> FormHelper:
        return helper("form_id", *self.parts, "happened_at", "words", *self.last())

    def last(self) -> tuple[Any, ...]:
        """What stands under the fields."""
        return (ActionBar(_("It happened: record it")),)

    def said(self) -> StepData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        return StepData(
            given["form_id"], self.recall.number, self.what, given["happened_at"], given.get("consignee", ""),
            given.get("code", ""), given.get("quantity", ""), given["unit"] if given.get("quantity") else "",
            given["words"],
        )  # fmt: skip


class StepAmendForm(StepForm):
    """A step as it should have been recorded; or it did not happen."""

    def build(self, plan: Plan) -> None:
        super().build(plan)
        self.fields["reason"] = note(_("Why it is amended"), required=True)
        self.fields["void"] = forms.BooleanField(label=_("It did not happen"), required=False)

    def last(self) -> tuple[Any, ...]:
        return ("reason", "void", ActionBar(_("Amend it")))


class EndForm(SignatureFields, FlowForm):
    """The end of a recall or a rehearsal, signed."""

    use_required_attribute = False

    def build(self, plan: Plan) -> None:
        self.fields["ended_at"] = self.time(_("Ended at"))
        self.initial.setdefault("ended_at", self.now)
        self.fields["outcome"] = note(_("The outcome, in words"), required=True)

    def layout(self) -> FormHelper:
        return helper("form_id", "ended_at", "outcome", signature(), ActionBar(_("Sign: end it")))

    @property
    def helper(self) -> FormHelper:
        """Its own layout, with the signature at its end."""
        return self.layout()

    def said(self, recall: int) -> EndData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        return EndData(given["form_id"], recall, given["ended_at"], given["outcome"])
