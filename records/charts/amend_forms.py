"""Amending what was said of a chart: the same fields as they stand, why, and a fresh signature."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Field, Fieldset, Row
from django import forms
from django.utils.translation import gettext as _

from plant.forms.layout import ActionBar
from plant.hazard_plan.content import Plan
from records.charts.amending import as_indicated
from records.charts.data import Indicated, OffData, OnData
from records.charts.forms import SPANS, ChartForm, as_answer
from records.charts.models import ChartOff, ChartOn
from records.flow.fields import note
from records.flow.forms import helper
from records.people.forms import SignatureFields


class AmendForm(SignatureFields, ChartForm):
    """What both amendments ask: whether it happened at all, why, and the signature."""

    void_words = ""

    def ask_why(self, void: Any) -> None:
        self.fields["void"] = forms.BooleanField(label=void, required=False)
        self.fields["amend_reason"] = note(_("Why it is amended"), required=True)

    @property
    def helper(self) -> FormHelper:
        """The chart's own layout, with the signature at its end."""
        return self.layout()

    def signed_layout(self) -> list[Any]:
        return ["amend_reason", Row(Field("signer"), Field("signer_secret")), ActionBar(_("Sign the amendment"))]

    def indicated(self) -> Indicated:
        """The reading is amended where readings are; here it stays."""
        return Indicated()


class AmendOnForm(AmendForm):
    """How a chart was put on, as it should have been said."""

    def build(self, plan: Plan) -> None:
        self.fields["changed_at"] = self.time(_("Put on at"))
        self.ask_new_chart()
        self.fields["chart_number"].label = _("Number written on the chart")
        self.ask_why(_("It was not put on at all"))

    def layout(self) -> FormHelper:
        chart = Fieldset(_("The chart"), "void", "chart_number", Field("span"), "strip_hours", "changed_at", "note")
        return helper("form_id", chart, *self.signed_layout())

    def clean(self) -> dict[str, Any]:
        self.check_span()
        return self.cleaned_data

    def amended(self, old: ChartOn) -> OnData:
        """As the act takes it, with the reading as it was."""
        return replace(self.on_data(self.cleaned_data["changed_at"]), indicated=as_indicated(old))


class AmendOffForm(AmendForm):
    """How a chart was taken off, as it should have been said."""

    def build(self, plan: Plan) -> None:
        self.fields["changed_at"] = self.time(_("Taken off at"))
        self.ask_old_chart()
        self.fields["note"] = note(_("Note"))
        self.ask_why(_("It was not taken off: it is still on"))

    def layout(self) -> FormHelper:
        return helper("form_id", "void", "changed_at", self.old_layout(), "note", *self.signed_layout())

    def amended(self, old: ChartOff) -> OffData:
        """As the act takes it, with the reading as it was."""
        said = self.cleaned_data
        return replace(self.off_data(old.chart, said["changed_at"], said["note"]), indicated=as_indicated(old))


def as_on(row: ChartOn) -> dict[str, Any]:
    """A form as it was filled in."""
    known = next((key for key, one in SPANS.items() if one == (row.shape, row.span_typed)), "strip")
    return {
        "changed_at": row.put_on_at,
        "chart_number": row.chart_number,
        "span": known,
        "strip_hours": row.span_typed if known == "strip" else "",
        "note": row.note,
    }


def as_off(row: ChartOff) -> dict[str, Any]:
    """A form as it was filled in."""
    return {
        "changed_at": row.taken_off_at,
        "products": row.products,
        "unusual": as_answer(row.unusual),
        "unusual_words": row.unusual_words,
        "overlapped": as_answer(row.overlapped),
        "clock_right": as_answer(row.clock_right),
        "clock_against": row.clock_against,
        "clock_words": row.clock_words,
        "note": row.note,
    }
