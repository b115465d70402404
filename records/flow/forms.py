"""What a person may type on the flow pages. Forms only parse; the acts decide."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Field, Fieldset, Layout, Row
from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from plant.forms.layout import ActionBar, BigNumber, Figure, YesNo
from plant.hazard_plan.content import Plan
from plant.rework_places import is_rework
from records.flow import choices, joined
from records.flow.data import MEASURED_BY, UNITS, EndData, EventData, LevelData, MovementData, WashData
from records.flow.doubts import Doubt
from records.flow.exits import EXITS
from records.flow.fields import PlantTime, TypedNumber, choice, form_id, note, words
from records.flow.packing import is_packing
from records.people.forms import SignatureFields
from records.people.plans import InForce

_MEASURED = {
    "level": gettext_lazy("level on the gauge"),
    "meter": gettext_lazy("meter"),
    "mass": gettext_lazy("scale or ticket"),
    "count": gettext_lazy("count"),
    "unknown": gettext_lazy("not known"),
}
BEGINS_NOW = "begins_now"
TO_LOAD = "to_load"
MOST_CONTACT_MIN = 24 * 60


def helper(*parts: Any) -> FormHelper:
    """A crispy helper whose form tag the template writes."""
    found = FormHelper()
    found.form_tag = False
    found.layout = Layout(*parts)
    return found


class FlowForm(forms.Form):
    """A form of the flow: it knows the plan, its clocks and its decimal mark."""

    def __init__(self, *args: Any, in_force: InForce, now: datetime, **options: Any) -> None:
        super().__init__(*args, **options)
        self.in_force, self.now = in_force, now
        self.fields["form_id"] = form_id()
        self.initial.setdefault("form_id", uuid.uuid4())
        self.build(in_force.plan)

    @property
    def helper(self) -> FormHelper:
        """Laid out by crispy-forms."""
        return self.layout()

    def build(self, plan: Plan) -> None:
        raise NotImplementedError

    def layout(self) -> FormHelper:
        raise NotImplementedError

    def time(self, label: Any, *, required: bool = True, help_text: Any = "") -> PlantTime:
        return PlantTime(
            calendar=self.in_force.calendar,
            now=self.now,
            label=label,
            required=required,
            help_text=help_text,
            error_messages={"required": _("Enter when.")},
        )

    def number(self, label: Any, *, required: bool = False, **options: Any) -> TypedNumber:
        mark = self.in_force.plan.plant.decimal_mark
        required_words = {"required": _("Enter a number.")}
        return TypedNumber(decimal_mark=mark, label=label, required=required, error_messages=required_words, **options)

    def units(self) -> list[tuple[str, str]]:
        own = self.in_force.plan.plant.volume_unit
        return [(one, one) for one in dict.fromkeys((own, *UNITS))]

    def quantity_fields(self) -> None:
        """Quantity, its unit, how it was found, its uncertainty; or not known."""
        self.fields["quantity"] = self.number(_("Quantity"))
        self.fields["unit"] = choice(_("Unit"), self.units())
        self.fields["unknown"] = forms.BooleanField(label=_("The quantity is not known"), required=False)
        self.fields["uncertainty"] = self.number(_("Give or take"))
        self.fields["measured_by"] = choice(_("Found by"), [(one, _MEASURED[one]) for one in MEASURED_BY])
        self.initial.setdefault("unit", self.in_force.plan.plant.volume_unit)
        self.initial.setdefault("measured_by", "level")

    def quantity_layout(self) -> Fieldset:
        return Fieldset(
            _("How much"),
            BigNumber("quantity", unit_field="unit"),
            "unknown",
            Row(Figure("uncertainty"), Field("measured_by")),
        )

    def check_quantity(self, *, wanted: bool) -> None:
        """A quantity and 'not known' exclude each other; with neither, a finished movement asks for one."""
        typed, unknown = self.cleaned_data.get("quantity"), self.cleaned_data.get("unknown")
        if typed and unknown:
            self.add_error("unknown", _("There is a quantity above. Take it out, or take this tick away."))
        elif wanted and not unknown and "quantity" in self.cleaned_data and not typed:
            self.add_error("quantity", _("Enter how much it was, or tick that it is not known."))

    def quantity_data(self) -> dict[str, str]:
        data = self.cleaned_data
        if data["unknown"] or not data["quantity"]:
            return {"quantity_typed": "", "unit": "", "uncertainty_typed": "", "measured_by": "unknown"}
        return {
            "quantity_typed": data["quantity"],
            "unit": data["unit"],
            "uncertainty_typed": data["uncertainty"],
            "measured_by": data["measured_by"],
        }

    def times_in_order(self, first: str, last: str) -> None:
        began, ended = self.cleaned_data.get(first), self.cleaned_data.get(last)
        if began and ended and ended < began:
            self.add_error(last, _("This is before the start."))


class DoubtedForm(FlowForm):
    """A form that asks once more before it keeps what looks like a slip; who says that it is right is believed."""

    doubted = False
    to_load = False

    @property
    def asks_again(self) -> bool:
        """Whether the tick that answers a doubt is shown: something was doubted, or it was ticked already."""
        return self.doubted or bool(self.is_bound and self.data.get("as_typed"))

    def doubt(self, found: Iterable[Doubt]) -> bool:
        """Put the doubts beside their fields, unless the person says that it is right; True where any is open."""
        for one in [] if self.cleaned_data.get("as_typed") else found:
            self.doubted = True
            self.to_load = self.to_load or one.to_load
            self.add_error(one.field, one.sentence)
        if self.doubted:
            self.add_error("as_typed", _("Mend it, or tick this to keep it as it is."))
        return self.doubted

    def ask_field(self) -> None:
        self.fields["as_typed"] = forms.BooleanField(label=_("It is right as I typed it"), required=False)

    def ask_layout(self) -> list[str]:
        return ["as_typed"] if self.asks_again else []


class MovementForm(DoubtedForm):
    """A movement that begins now or has happened."""

    def build(self, plan: Plan) -> None:
        self.fields["source"] = choice(_("From"), [*choices.places(plan), *self.rework("source")])
        self.fields["source_name"] = words(_("Where from, if outside"), 120, help_text=_("A farm, a supplier."))
        self.fields["target"] = choice(_("Into"), [*choices.targets(plan), *self.rework("target")])
        self.fields["target_name"] = words(
            _("Where to, if outside"), 120, help_text=_("A customer, another plant. Packing needs a code.")
        )
        through: list[tuple[str, Any]] = [("", _("nothing: straight across")), *choices.lines(plan)]
        self.fields["via"] = choice(_("Through"), through, required=False)
        self.fields["product"] = choice(_("Product, as it arrives"), [("", "—"), *choices.products(plan)])
        self.fields["started_at"] = self.time(_("Started"))
        self.fields["ended_at"] = self.time(
            _("Ended"), required=False, help_text=_("Leave empty while it still runs.")
        )
        self.quantity_fields()
        self.fields["emptied"] = forms.BooleanField(label=_("That emptied the vessel it came from"), required=False)
        self.fields["code"] = words(_("Code on the packs"), 60)
        self.fields["note"] = note(_("Note"))
        self.ask_field()

    def layout(self) -> FormHelper:
        return helper(
            "form_id",
            *self.ask_layout(),
            Row(Field("source"), Field("source_name")),
            Row(Field("target"), Field("target_name")),
            Row(Field("via"), Field("product")),
            Row(Field("started_at"), Field("ended_at")),
            self.quantity_layout(),
            "emptied",
            Row(Field("code"), Field("note")),
            ActionBar(_("It happened: record it"), _("It begins now"), out_name=BEGINS_NOW),
        )

    def rework(self, end: str) -> list[tuple[str, Any]]:
        """The container of rework that this movement already has at an end: no list of the plan names it."""
        code = str((self.data if self.is_bound else self.initial).get(end) or "")
        return [(code, self.in_force.names.get(code, code))] if is_rework(code) else []

    def clean(self) -> dict[str, Any]:
        data = self.cleaned_data
        if leaves := choices.exit_chosen(data.get("target")):
            data["target"] = ""
            with self.in_force.speaking():
                data["target_name"] = str(EXITS[leaves])
        for end in ("source", "target"):
            if data.get(end) == choices.OUTSIDE:
                data[end] = ""
        source, target = data.get("source"), data.get("target")
        if "source" in data and "target" in data:
            if not source and not target:
                self.add_error("target", _("One of the two has to be a vessel of this plant."))
            elif source == target:
                self.add_error("target", _("It cannot go into the vessel that it comes from."))
        for end, name in (("source", "source_name"), ("target", "target_name")):
            if end in data and not data[end] and name in data and not data[name]:
                self.add_error(name, _("Say where, since it is outside."))
        packing = "target" in data and is_packing(data["target"], data.get("target_name"))
        if packing and "code" in data and not data["code"]:
            self.add_error("code", _("Enter the code that stands on the packs."))
        self.times_in_order("started_at", "ended_at")
        self.check_quantity(wanted=data.get("ended_at") is not None)
        return data

    def movement(self, *, start_now: bool = False) -> MovementData:
        """What was typed, as the act takes it."""
        data = self.cleaned_data
        return MovementData(
            form_id=data["form_id"],
            source=data["source"],
            source_name="" if data["source"] else data["source_name"],
            target=data["target"],
            target_name="" if data["target"] else data["target_name"],
            via=data["via"],
            product=data["product"],
            started_at=data["started_at"],
            ended_at=None if start_now else data["ended_at"],
            emptied=bool(data.get("emptied")) and not start_now,
            code=data["code"] if is_packing(data["target"], data["target_name"]) else "",
            note=data["note"],
            start_now=start_now,
            **self.quantity_data(),
        )


class EndForm(DoubtedForm):
    """The end of a movement that runs."""

    def build(self, plan: Plan) -> None:
        self.fields["ended_at"] = self.time(_("Ended"))
        self.quantity_fields()
        self.fields["emptied"] = forms.BooleanField(label=_("That emptied the vessel it came from"), required=False)
        self.fields["note"] = note(_("Note"))
        self.ask_field()

    def layout(self) -> FormHelper:
        parts = ("ended_at", self.quantity_layout(), "emptied", "note", ActionBar(_("It ended: record it")))
        return helper("form_id", *self.ask_layout(), *parts)

    def clean(self) -> dict[str, Any]:
        self.check_quantity(wanted=True)
        return self.cleaned_data

    def end(self) -> EndData:
        """What was typed, as the act takes it."""
        data = self.cleaned_data
        return EndData(
            ended_at=data["ended_at"], emptied=data["emptied"], note=data["note"], **self.quantity_data()
        )


class WashForm(FlowForm):
    """A wash or a sanitizing that has happened; the vessel and which of the two come with the address."""

    what: Any = "washed"
    button = gettext_lazy("Record it")

    def __init__(self, *args: Any, place: str, **options: Any) -> None:
        self.place = place
        super().__init__(*args, **options)

    def build(self, plan: Plan) -> None:
        self.fields["started_at"] = self.time(_("Started"))
        self.fields["ended_at"] = self.time(_("Ended"))
        self.fields["method"] = words(
            _("How"), 120, required=True, help_text=_("The circuit or program, or by hand; the chemical.")
        )
        self.fields["temperature"] = self.number(_("Temperature at the outlet"), may_be_negative=True)
        unit = self.in_force.plan.plant.temperature_unit
        self.fields["temperature_unit"] = choice(
            _("Unit"), [(f"°{one}", f"°{one}") for one in dict.fromkeys((unit, "F", "C"))]
        )
        self.initial.setdefault("temperature_unit", f"°{unit}")
        self.fields["strength"] = words(_("Strength, with its unit"), 60, help_text=_("100 mg/L, for example."))
        self.fields["contact_min"] = forms.RegexField(
            "^[0-9]{1,4}$",
            label=_("Contact time, minutes"),
            required=False,
            max_length=10,
            error_messages={"invalid": _("Enter whole minutes.")},
        )
        self.fields["was_empty"] = forms.BooleanField(label=_("It was empty when the wash began"), required=False)
        ask_parted(self, self.place)
        self.fields["note"] = note(_("Note"))

    def layout(self) -> FormHelper:
        return helper(
            "form_id",
            Row(Field("started_at"), Field("ended_at")),
            "method",
            BigNumber("temperature", unit_field="temperature_unit"),
            Row(Field("strength"), Figure("contact_min")),
            "was_empty",
            *parted_layout(self),
            "note",
            *self.last_fields(),
            ActionBar(self.button),
        )

    def last_fields(self) -> tuple[Any, ...]:
        return ()

    def clean(self) -> dict[str, Any]:
        self.times_in_order("started_at", "ended_at")
        minutes = self.cleaned_data.get("contact_min")
        if minutes and int(minutes) > MOST_CONTACT_MIN:
            self.add_error("contact_min", _("Enter minutes of one day at most."))
        return self.cleaned_data

    def wash(self, vessel: str, what: Any) -> WashData:
        """What was typed, as the act takes it."""
        data = self.cleaned_data
        return WashData(
            form_id=data["form_id"],
            what=what,
            vessel=vessel,
            started_at=data["started_at"],
            ended_at=data["ended_at"],
            method=data["method"],
            temperature_typed=data["temperature"],
            temperature_unit=data["temperature_unit"] if data["temperature"] else "",
            strength=data["strength"],
            contact_min=int(data["contact_min"]) if data["contact_min"] else None,
            was_empty=data["was_empty"],
            note=data["note"],
            parted=data.get("parted", ""),
        )


def ask_parted(form: FlowForm, place: str) -> None:
    """Where the plan's pipes join a place to others: whether it was seen apart from them while it was washed."""
    words = joined.in_words_of(form.in_force, place)
    if words:
        form.fields["parted"] = choice(
            _("Did you see it parted from what it is joined to?"),
            [(joined.YES, _("yes")), (joined.NO, _("no"))],
            help_text=words,
            radio=True,
        )


def parted_layout(form: FlowForm) -> list[Any]:
    """The question of `ask_parted`, where it is asked."""
    return [YesNo("parted")] if "parted" in form.fields else []


class WashAmendForm(WashForm):
    """A wash as it should have been said."""

    button = gettext_lazy("Amend it")

    def build(self, plan: Plan) -> None:
        super().build(plan)
        self.fields["reason"] = words(_("Why it is amended"), 400, required=True)
        self.fields["void"] = forms.BooleanField(label=_("It did not happen"), required=False)

    def last_fields(self) -> tuple[Any, ...]:
        return ("reason", "void")


class LevelForm(FlowForm):
    """A level seen in a vessel."""

    def build(self, plan: Plan) -> None:
        self.fields["quantity"] = self.number(_("Level seen"), required=True)
        self.fields["unit"] = choice(_("Unit"), self.units())
        self.initial.setdefault("unit", plan.plant.volume_unit)
        self.fields["seen_at"] = self.time(_("Seen at"))
        self.fields["note"] = note(_("Note"))

    def layout(self) -> FormHelper:
        return helper(
            "form_id", BigNumber("quantity", unit_field="unit"), "seen_at", "note", ActionBar(_("Record it"))
        )

    def level(self, vessel: str) -> LevelData:
        """What was typed, as the act takes it."""
        data = self.cleaned_data
        return LevelData(
            form_id=data["form_id"],
            vessel=vessel,
            quantity_typed=data["quantity"],
            unit=data["unit"],
            seen_at=data["seen_at"],
            note=data["note"],
        )


class EventForm(FlowForm):
    """Something that happened at the plant."""

    def build(self, plan: Plan) -> None:
        self.fields["event"] = choice(_("What happened"), choices.events(plan), radio=True)
        self.fields["subject"] = choice(_("Where"), choices.event_places(plan), required=False)
        self.fields["happened_at"] = self.time(_("When"))
        self.fields["reference"] = words(
            _("Number or name"), 120, help_text=_("Of the batch, the roll, the delivery note, the visitor.")
        )
        self.fields["note"] = note(_("Note"))

    def layout(self) -> FormHelper:
        return helper(
            "form_id",
            "event",
            Row(Field("subject"), Field("happened_at")),
            Row(Field("reference"), Field("note")),
            ActionBar(_("Record it")),
        )

    def event(self) -> EventData:
        """What was typed, as the act takes it."""
        data = self.cleaned_data
        return EventData(
            form_id=data["form_id"],
            event=data["event"],
            happened_at=data["happened_at"],
            subject=data["subject"],
            reference=data["reference"],
            note=data["note"],
        )


class ServiceForm(FlowForm):
    """A vessel taken out of service, or back."""

    def build(self, plan: Plan) -> None:
        self.fields["reason"] = note(_("Why"), required=True)

    def layout(self) -> FormHelper:
        return helper("form_id", "reason", ActionBar(_("Sign it")))


class NoProductionForm(FlowForm):
    """A day or a shift without production."""

    def build(self, plan: Plan) -> None:
        self.fields["day"] = forms.DateField(
            label=_("Plant day"),
            widget=forms.DateInput(attrs={"type": "date"}),
            error_messages={"required": _("Enter the day."), "invalid": _("Write the day as 2026-03-03.")},
        )
        shifts: list[tuple[str, Any]] = [("", _("the whole day")), *((one.key, one.name) for one in plan.shifts)]
        self.fields["shift"] = choice(_("Shift"), shifts, required=False)
        self.fields["reason"] = note(_("Why nothing is made"), required=True)

    def layout(self) -> FormHelper:
        return helper("form_id", Row(Field("day"), Field("shift")), "reason")


class AmendMovementForm(SignatureFields, MovementForm):
    """A movement as it should have been recorded, or that it did not happen; with the reason and a signature."""

    def build(self, plan: Plan) -> None:
        super().build(plan)
        del self.fields["emptied"]
        self.fields["void"] = forms.BooleanField(label=_("It did not happen at all"), required=False)
        self.fields["amend_reason"] = note(_("Why it is amended"), required=True)

    def layout(self) -> FormHelper:
        return helper(
            "form_id",
            "void",
            Row(Field("source"), Field("source_name")),
            Row(Field("target"), Field("target_name")),
            Row(Field("via"), Field("product")),
            Row(Field("started_at"), Field("ended_at")),
            self.quantity_layout(),
            Row(Field("code"), Field("note")),
            "amend_reason",
            *self.ask_layout(),
            Row(Field("signer"), Field("signer_secret")),
            ActionBar(_("Sign the amendment")),
        )

    @property
    def helper(self) -> FormHelper:
        """The movement's own layout, with the signature at its end."""
        return self.layout()


class SignNoProductionForm(SignatureFields, NoProductionForm):
    """A day or shift without production is a signed record."""

    def layout(self) -> FormHelper:
        return helper(
            "form_id",
            Row(Field("day"), Field("shift")),
            "reason",
            Row(Field("signer"), Field("signer_secret")),
            ActionBar(_("Sign: no production")),
        )

    @property
    def helper(self) -> FormHelper:
        """Its own layout, with the signature at its end."""
        return self.layout()
