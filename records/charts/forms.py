"""What a person may type about a chart. Forms only parse; the acts decide. Refusals find their field by `field_of`."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Field, Fieldset, Row
from django import forms
from django.utils.translation import gettext as _

from plant.forms.layout import ActionBar, BigNumber, YesNo
from plant.hazard_plan.content import InstrumentDef, Plan
from records.charts.data import Indicated, InitialsData, OffData, OnData
from records.charts.models import BACK, CIRCULAR, FRONT, STRIP
from records.charts.recorders import Recorder
from records.checks import photos
from records.checks.asking import OTHER_UNIT
from records.checks.forms import YES_NO, photo_field
from records.flow.fields import choice, note, words
from records.flow.forms import FlowForm, helper
from records.people.forms import SignatureFields

# The charts that recorders of a dairy take (common practice, no source); a strip says its own length.
SPANS = {"24": (CIRCULAR, "24"), "12": (CIRCULAR, "12"), "168": (CIRCULAR, "168"), "strip": (STRIP, "")}


def answered(text: str | None) -> bool | None:
    """Yes, no, or not said."""
    return {"yes": True, "no": False}.get(text or "")


def as_answer(value: bool | None) -> str:
    """The choice that says it."""
    return {True: "yes", False: "no", None: ""}[value]


class ChartForm(FlowForm):
    """A form about a recorder's chart: it knows the recorder and what is read beside it."""

    use_required_attribute = False  # our own sentence beside the field, not the browser's
    moment = "changed_at"

    def __init__(
        self,
        *args: Any,
        recorder: Recorder,
        indicators: list[InstrumentDef],
        usual: InstrumentDef | None = None,
        **options: Any,
    ) -> None:
        self.recorder, self.indicators, self.usual = recorder, indicators, usual
        super().__init__(*args, **options)

    def field_of(self, name: str) -> str:
        """The field that a refusal of this name belongs beside."""
        named = {"put_on_at": self.moment, "taken_off_at": self.moment, "shape": "span", "span_typed": "strip_hours"}
        return named.get(name, name)

    # --- the indicating reading

    def ask_reading(self) -> None:
        """The number, its unit, what was read; or why it was not: then the others may stay empty."""
        wanted = not (self.is_bound and str(self.data.get("not_taken", "")).strip())
        label = _("Indicating reading at that moment")
        self.fields["typed"] = self.number(label, required=wanted, may_be_negative=True)
        self.fields["typed"].error_messages["required"] = _(
            "Enter what the indicating instrument showed, or say why it was not read."
        )
        self.fields["unit"] = choice(_("Unit"), [(one, one) for one in self.units_of_reading()])
        self.initial.setdefault("unit", self.recorder.unit)
        choices = [(one.code, f"{one.code}, {one.name}") for one in self.indicators]
        self.fields["instrument"] = choice(
            _("Read with"), [("", _("choose the instrument")), *choices], required=wanted
        )
        self.fields["instrument"].error_messages["required"] = _("Choose the instrument that was read.")
        if self.usual is not None:
            self.initial.setdefault("instrument", self.usual.code)
        self.fields["not_taken"] = words(
            _("Or why it could not be read"), 400, help_text=_("It then stands as not taken, with this reason.")
        )

    def units_of_reading(self) -> list[str]:
        """The recorder's own unit, and of a temperature the other scale."""
        other = OTHER_UNIT.get(self.recorder.unit)
        return [self.recorder.unit, *([other] if other else [])]

    def reading_layout(self) -> Fieldset:
        return Fieldset(
            _("The indicating reading"),
            BigNumber("typed", unit_field="unit"),
            Row(Field("instrument"), Field("not_taken")),
        )

    def indicated(self) -> Indicated:
        """What was said of the reading."""
        said = self.cleaned_data
        return Indicated(said["typed"], said["unit"] if said["typed"] else "", said["instrument"], said["not_taken"])

    # --- the chart put on

    def ask_new_chart(self) -> None:
        self.fields["chart_number"] = words(_("Number written on the new chart"), 60, required=True)
        spans = [
            ("24", _("circular, one turn in 24 h")),
            ("12", _("circular, one turn in 12 h")),
            ("168", _("circular, one turn in 7 days")),
            ("strip", _("a strip, of so many hours:")),
        ]
        self.fields["span"] = choice(_("What it is made for"), spans, radio=True)
        self.fields["strip_hours"] = self.number(_("Hours of the strip"))
        self.fields["note"] = note(_("Note"))

    def check_span(self) -> None:
        """A strip needs its hours; a circular chart has them in its name."""
        span, hours = self.cleaned_data.get("span"), self.cleaned_data.get("strip_hours")
        if span == "strip" and not hours and "strip_hours" in self.cleaned_data:
            self.add_error("strip_hours", _("Enter the hours that the chart is made for."))
        if span in ("24", "12", "168") and hours:
            self.add_error("strip_hours", _("Hours belong to a strip. Take them out, or choose the strip."))

    def on_data(self, put_on_at: datetime) -> OnData:
        """What was said of the chart put on."""
        said = self.cleaned_data
        shape, hours = SPANS[said["span"]]
        return OnData(
            form_id=said["form_id"],
            recorder=self.recorder.code,
            chart_number=said["chart_number"],
            shape=shape,
            span_typed=hours or said["strip_hours"],
            put_on_at=put_on_at,
            indicated=self.indicated(),
            note=said["note"],
        )

    # --- the chart taken off

    def ask_old_chart(self) -> None:
        self.fields["products"] = note(_("Name and amount of each run's product, as written on it"))
        self.fields["unusual"] = choice(_("Did anything unusual happen?"), YES_NO, radio=True)
        self.fields["unusual_words"] = note(_("What happened"))
        self.fields["overlapped"] = choice(_("Do the traces overlap anywhere?"), YES_NO, radio=True)
        self.fields["clock_right"] = choice(_("Was the chart's time right?"), YES_NO, radio=True, required=False)
        self.fields["clock_against"] = words(_("Held against which clock"), 120)
        self.fields["clock_words"] = words(_("What it showed, if it was not right"), 120)

    def old_layout(self) -> Fieldset:
        return Fieldset(
            _("The chart that comes off"),
            "products",
            Row(YesNo("overlapped"), YesNo("unusual")),
            "unusual_words",
            Row(YesNo("clock_right"), Field("clock_against"), Field("clock_words")),
        )

    def off_data(self, chart: int, taken_off_at: datetime, note: str = "") -> OffData:
        """What was said of the chart taken off."""
        said = self.cleaned_data
        return OffData(
            form_id=said["form_id"],
            chart=chart,
            taken_off_at=taken_off_at,
            indicated=self.indicated(),
            products=said["products"],
            unusual=answered(said["unusual"]),
            unusual_words=said["unusual_words"],
            overlapped=answered(said["overlapped"]),
            clock_right=answered(said["clock_right"]),
            clock_against=said["clock_against"],
            clock_words=said["clock_words"],
            note=note,
        )


class PutOnForm(ChartForm):
    """A chart put on a recorder."""

    def build(self, plan: Plan) -> None:
        self.fields["changed_at"] = self.time(_("Put on at"))
        self.ask_reading()
        self.ask_new_chart()

    def layout(self) -> FormHelper:
        return helper(
            "form_id",
            Fieldset(_("The chart"), "chart_number", Field("span"), "strip_hours", "changed_at"),
            self.reading_layout(),
            "note",
            ActionBar(_("It is on: record it")),
        )

    def clean(self) -> dict[str, Any]:
        self.check_span()
        return self.cleaned_data

    def on(self) -> OnData:
        """As the act takes it."""
        return self.on_data(self.cleaned_data["changed_at"])


class TakeOffForm(ChartForm):
    """A chart taken off, with none put on in its place."""

    def build(self, plan: Plan) -> None:
        self.fields["changed_at"] = self.time(_("Taken off at"))
        self.ask_reading()
        self.ask_old_chart()
        self.fields["note"] = note(_("Note"))

    def layout(self) -> FormHelper:
        bar = ActionBar(_("It is off: record it"))
        return helper("form_id", "changed_at", self.reading_layout(), self.old_layout(), "note", bar)

    def off(self, chart: int) -> OffData:
        """As the act takes it."""
        return self.off_data(chart, self.cleaned_data["changed_at"], self.cleaned_data["note"])


class ChangeForm(ChartForm):
    """One chart for another, with one indicating reading."""

    def build(self, plan: Plan) -> None:
        self.fields["changed_at"] = self.time(_("Changed at"))
        self.ask_reading()
        self.ask_old_chart()
        self.ask_new_chart()

    def layout(self) -> FormHelper:
        return helper(
            "form_id",
            "changed_at",
            self.reading_layout(),
            self.old_layout(),
            Fieldset(_("The chart that goes on"), "chart_number", Field("span"), "strip_hours", "note"),
            ActionBar(_("Changed: record it")),
        )

    def clean(self) -> dict[str, Any]:
        self.check_span()
        return self.cleaned_data

    def on(self) -> OnData:
        """The new chart, as the act takes it."""
        return self.on_data(self.cleaned_data["changed_at"])

    def off(self, chart: int) -> OffData:
        """The old chart, as the act takes it."""
        return self.off_data(chart, self.cleaned_data["changed_at"])


class PhotoForm(FlowForm):
    """A photo of one side."""

    use_required_attribute = False

    def build(self, plan: Plan) -> None:
        self.fields["side"] = choice(_("Which side"), [(FRONT, _("front")), (BACK, _("back"))], radio=True)
        self.fields["photo"] = photo_field(_("The photo"))
        self.fields["photo"].help_text = _(
            "From straight above, the whole chart in it, as JPEG or PNG: then the trace can be laid over it."
        )
        self.fields["note"] = note(_("Note"))

    def layout(self) -> FormHelper:
        return helper("form_id", "side", "photo", "note", ActionBar(_("Keep the photo")))

    def field_of(self, name: str) -> str:
        """Its own names."""
        return name

    def clean_photo(self) -> photos.Photo | None:
        """The picture's bytes, checked to be one."""
        found = photos.read(self.cleaned_data.get("photo"))
        if found is None:
            raise forms.ValidationError(_("Take the photo."))
        return found


class SignForm(SignatureFields):
    """The operator's signature under a chart."""


class InitialsForm(FlowForm):
    """The regulator's quarterly initials, copied from the paper."""

    use_required_attribute = False

    def __init__(self, *args: Any, recorders: list[Recorder], **options: Any) -> None:
        self.recorders = recorders
        super().__init__(*args, **options)

    def build(self, plan: Plan) -> None:
        choices = [(one.code, one.label) for one in self.recorders]
        self.fields["recorder"] = choice(_("Recorder"), choices)
        self.fields["written_on"] = forms.DateField(
            label=_("Written on"),
            widget=forms.DateInput(attrs={"type": "date"}),
            error_messages={"required": _("Enter the day."), "invalid": _("Write the day as 2026-03-03.")},
        )
        self.fields["initials"] = words(_("Initials, as written"), 40, required=True)
        self.fields["name"] = words(_("Whose: name and office"), 120, required=True)
        self.fields["accuracy"] = words(
            _("Time accuracy found, as written"), 200, required=True, help_text=_("12 h run: 3 min slow, for example.")
        )
        self.fields["note"] = note(_("Note"))

    def layout(self) -> FormHelper:
        return helper(
            "form_id",
            Row(Field("recorder"), Field("written_on")),
            Row(Field("initials"), Field("name")),
            "accuracy",
            "note",
            ActionBar(_("Copied from the paper: record it")),
        )

    def field_of(self, name: str) -> str:
        """Its own names."""
        return name

    def initials(self, chart: int | None) -> InitialsData:
        """As the act takes it."""
        said = self.cleaned_data
        return InitialsData(
            said["form_id"],
            said["recorder"],
            said["written_on"],
            said["initials"],
            said["name"],
            said["accuracy"],
            chart,
            said["note"],
        )
