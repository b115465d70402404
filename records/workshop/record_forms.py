"""What a person may type about tests of record and calibrations. Forms only parse; the acts decide."""

from __future__ import annotations

from datetime import date
from typing import Any

from crispy_forms.layout import Field, Fieldset, Row
from django import forms
from django.utils.translation import gettext as _

from plant.equipment.models import Instrument
from plant.forms.layout import Figure, YesNo
from plant.hazard_plan.content import Plan
from plant.process.pasteurization import Homogenizer
from records.flow.fields import choice, note, words
from records.people.forms import SignatureFields, reason_field
from records.workshop import reports_kept
from records.workshop.calibrating import LONGEST_REFERENCE
from records.workshop.data import CalibrationData, HoldingData, Point, TestData
from records.workshop.forms import NO, REGULATOR, YES, AmendFields, WorkshopForm, whose, yes_no
from records.workshop.parts import test_choices
from records.workshop.testing import LONGEST_NAME, MEDIA, RATE_UNITS
from records.workshop.words import in_words

POINTS = (1, 2, 3)
MOST_TRIES = 12


class ReportForm(WorkshopForm):
    """A form to which a report may be attached; an amendment keeps the one that was."""

    kept_report: Any = None

    def report_rows(self) -> list[Any]:
        return ["report"]

    def clean_report(self) -> Any:
        """The report's bytes are kept at once: the act names them."""
        return reports_kept.read(self.cleaned_data.get("report")) or self.kept_report


class TestForm(ReportForm):
    """One numbered test."""

    __test__ = False  # no test of ours

    def build(self, plan: Plan) -> None:
        self.main = _("Record the test")
        here = [one for one in plan.instruments if one.place_code == self.place]
        self.fields["test"] = choice(_("Test"), [("", "—"), *test_choices()])
        self.fields["instrument"] = choice(
            _("Instrument"),
            [("", "—"), *((one.code, f"{one.code} {one.name}") for one in here)],
            required=False,
            help_text=_("Where the test is of one."),
        )
        self.fields["at"] = self.time(_("When"))
        self.fields["results"] = note(_("Numbers found, with their units"), required=True)
        self.fields["met"] = yes_no(_("Met?"))
        self.fields["by_regulator"] = whose(_("Whose test is it"))
        self.fields["tester"] = words(_("Tested by"), LONGEST_NAME, required=True)
        self.fields["report"] = reports_kept.report_field()
        self.fields["note"] = note(_("Note"))

    def parts(self) -> list[Any]:
        return [
            Row(Field("test"), Field("instrument"), Field("at")),
            "results",
            YesNo("met"),
            Row(Field("by_regulator"), Field("tester")),
            *self.report_rows(),
            "note",
        ]

    def said(self) -> TestData:
        """What was typed, as the act takes it."""
        data = self.cleaned_data
        return TestData(
            **self.common(),
            test=data["test"],
            results=data["results"],
            met=data["met"] == YES,
            by_regulator=data["by_regulator"] == REGULATOR,
            tester=data["tester"],
            instrument=data["instrument"],
            report=data["report"],
        )


class HoldingForm(ReportForm):
    """A holding-time test of one set-up."""

    def build(self, plan: Plan) -> None:
        self.main = _("Record the test")
        mine = [(one.key, one.name) for one in plan.set_ups if one.press == self.place]
        self.fields["set_up"] = choice(_("Set-up"), [("", "—"), *mine])
        self.fields["at"] = self.time(_("When"))
        self.fields["medium"] = choice(_("What ran"), [(one, in_words(one)) for one in MEDIA], radio=True)
        self.fields["homogenizer"] = choice(
            _("Homogenizer in the test"), [("", "—"), *((one.value, in_words(one.value)) for one in Homogenizer)]
        )
        self.fields["seconds"] = self.number(_("Holding time found, forward"), required=True)
        self.fields["diverted"] = self.number(_("In diverted flow"))
        self.fields["tries"] = forms.CharField(
            label=_("Each try, apart by spaces or lines"),
            required=False,
            max_length=400,
            widget=forms.Textarea(attrs={"rows": 2, "inputmode": "decimal"}),
            help_text=_("The least of all numbers here is the one that is judged."),
        )
        self.fields["pump_rate"] = self.number(_("Pump rate"))
        self.fields["pump_rate_unit"] = choice(_("Unit"), [(one, one) for one in RATE_UNITS], required=False)
        self.fields["by_regulator"] = whose(_("Whose test is it"))
        self.fields["tester"] = words(_("Tested by"), LONGEST_NAME, required=True)
        self.fields["report"] = reports_kept.report_field()
        self.fields["note"] = note(_("Note"))

    def parts(self) -> list[Any]:
        return [
            Row(Field("set_up"), Field("at")),
            Row(Field("medium"), Field("homogenizer")),
            Row(Figure("seconds", "s"), Figure("diverted", "s")),
            "tries",
            Figure("pump_rate", unit_field="pump_rate_unit"),
            Row(Field("by_regulator"), Field("tester")),
            *self.report_rows(),
            "note",
        ]

    def clean_tries(self) -> tuple[str, ...]:
        """The tries, each as typed."""
        tries = tuple(str(self.cleaned_data["tries"]).replace(";", " ").split())
        if len(tries) > MOST_TRIES:
            raise forms.ValidationError(_("At most %(most)s tries.") % {"most": MOST_TRIES})
        return tries

    def said(self) -> HoldingData:
        """What was typed, as the act takes it."""
        data = self.cleaned_data
        return HoldingData(
            **self.common(),
            set_up=data["set_up"],
            seconds=data["seconds"],
            medium=data["medium"],
            homogenizer=data["homogenizer"],
            by_regulator=data["by_regulator"] == REGULATOR,
            tester=data["tester"],
            diverted=data["diverted"],
            tries=data["tries"],
            pump_rate=data["pump_rate"],
            pump_rate_unit=data["pump_rate_unit"],
            report=data["report"],
        )


class CalibrationForm(ReportForm):
    """An instrument against a reference at up to three points."""

    def __init__(self, *args: Any, instrument: Instrument, **options: Any) -> None:
        self.instrument = instrument
        super().__init__(*args, **options)

    def build(self, plan: Plan) -> None:
        self.main = _("Record the calibration")
        unit = self.instrument.unit
        self.fields["at"] = self.time(_("When"))
        self.fields["tester"] = words(_("Calibrated by"), LONGEST_NAME, required=True)
        self.fields["reference"] = words(_("Reference, with its certificate"), LONGEST_REFERENCE, required=True)
        self.fields["reference_u"] = self.number(_("Its uncertainty (expanded, k = 2)"), required=True)
        self.fields["repeatability"] = self.number(
            _("Repeatability known from before"), help_text=_("Needed where it was read only once at a point.")
        )
        for place in POINTS:
            self.fields[f"reference_{place}"] = words(_("Reference, %(unit)s") % {"unit": unit}, 40)
            self.fields[f"found_{place}"] = words(
                _("As found, each reading"), 200, help_text=_("Several apart by spaces.") if place == 1 else ""
            )
            self.fields[f"left_{place}"] = words(_("As left"), 40)
        self.fields["adjusted"] = yes_no(_("Was it adjusted?"))
        self.fields["report"] = reports_kept.report_field()
        self.fields["note"] = note(_("Note"))

    def parts(self) -> list[Any]:
        points = [
            Fieldset(
                _("Point %(number)s") % {"number": place},
                Row(Field(f"reference_{place}"), Field(f"found_{place}"), Field(f"left_{place}")),
            )
            for place in POINTS
        ]
        unit = self.instrument.unit
        return [
            Row(Field("at"), Field("tester")),
            "reference",
            Row(Figure("reference_u", unit), Figure("repeatability", unit)),
            *points,
            YesNo("adjusted"),
            *self.report_rows(),
            "note",
        ]

    def said(self) -> CalibrationData:
        """What was typed, as the act takes it."""
        data = self.cleaned_data
        points = tuple(
            Point(reference=data[f"reference_{one}"], found=data[f"found_{one}"], left=data[f"left_{one}"])
            for one in POINTS
        )
        return CalibrationData(
            **self.common(),
            instrument=self.instrument.code,
            points=points,
            reference=data["reference"],
            reference_u=data["reference_u"],
            tester=data["tester"],
            adjusted=data["adjusted"] == YES,
            repeatability=data["repeatability"],
            report=data["report"],
        )


class ReviseForm(SignatureFields):
    """An instrument's correction and the day its next calibration is due, after a calibration."""

    correction = forms.DecimalField(label="", max_digits=12, decimal_places=4)
    calibration_due = forms.DateField(label="", widget=forms.DateInput(attrs={"type": "date"}))
    reason = reason_field("")

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.main = _("Change, signed")
        self.fields["correction"].label = _("Correction, added to what is read")
        self.fields["correction"].widget = forms.TextInput(attrs={"inputmode": "decimal"})
        self.fields["correction"].error_messages["invalid"] = _("Enter a number.")
        self.fields["calibration_due"].label = _("Next calibration due")
        self.fields["calibration_due"].error_messages["invalid"] = _("Write the day as 2026-03-03.")
        self.fields["reason"].label = _("Why")

    def changes(self) -> dict[str, Any]:
        """What the existing act of revision takes."""
        due: date = self.cleaned_data["calibration_due"]
        return {"correction": self.cleaned_data["correction"], "calibration_due": due}


class AmendTestForm(AmendFields, TestForm):
    """A test as it should have been recorded."""


class AmendHoldingForm(AmendFields, HoldingForm):
    """A holding-time test as it should have been recorded."""


class AmendCalibrationForm(AmendFields, CalibrationForm):
    """A calibration as it should have been recorded."""


__all__ = ["NO", "CalibrationForm", "HoldingForm", "ReviseForm", "TestForm"]
