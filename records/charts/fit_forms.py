"""Marks on a photo, and what was found when the trace lay over it. Works by number fields; a script may fill them."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Div, Fieldset, Row
from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from plant.forms.layout import ActionBar, Figure, YesNo
from plant.hazard_plan.content import Plan
from plant.pictures.chart_geometry import ACROSS, DOWN
from records.charts.data import ComparedData, FitData
from records.charts.fitting import ARM, CLOCKWISE, MARKS, OTHER_WAY
from records.charts.models import AGREE, DISAGREE, STRIP
from records.charts.recorders import Recorder
from records.checks.asking import OTHER_UNIT
from records.checks.layouts import More
from records.flow.fields import choice, note
from records.flow.forms import FlowForm, helper

SHOW = "show"
_STALE = gettext_lazy("This page is out of date. Open it again; what you typed stands below.")


class FitForm(FlowForm):
    """Marks on a photo: of a circular chart its center, two circles and a time mark; of a strip two corners."""

    use_required_attribute = False

    def __init__(self, *args: Any, shape: str, recorder: Recorder, **options: Any) -> None:
        self.shape, self.recorder = shape, recorder
        super().__init__(*args, **options)

    def build(self, plan: Plan) -> None:
        units = [self.recorder.unit, OTHER_UNIT.get(self.recorder.unit, "")]
        self.fields["unit"] = choice(_("Unit printed on the chart"), [(one, one) for one in units if one])
        self.initial.setdefault("unit", self.recorder.unit)
        if self.shape == STRIP:
            self._build_strip()
        else:
            self._build_circular()

    def _point(self, name: str) -> None:
        self.fields[f"{name}_x"] = self.number(_("From the left"), required=True, may_be_negative=True)
        self.fields[f"{name}_y"] = self.number(_("From the top"), required=True, may_be_negative=True)
        for axis in "xy":
            self.fields[f"{name}_{axis}"].widget.attrs["data-mark"] = f"{name} {axis}"

    def _build_circular(self) -> None:
        for name in ("center", "inner", "outer", "mark"):
            self._point(name)
        self.fields["inner_value"] = self.number(_("It stands for"), required=True, may_be_negative=True)
        self.fields["outer_value"] = self.number(_("It stands for"), required=True, may_be_negative=True)
        self.fields["first_at"] = self.printed_time(_("It stands for the time"))
        ways = [(CLOCKWISE, _("clockwise")), (OTHER_WAY, _("counterclockwise"))]
        self.fields["turns"] = choice(_("Printed hours grow"), ways, radio=True)
        for name, label in (
            ("outer_ruler", _("Radius of the outer circle")),
            ("arm_length", _("Length of the pen's arm")),
            ("arm_pivot", _("From the arm's pivot to the chart's center")),
        ):
            self.fields[name] = self.number(label)
        bends = [("", _("straight, or not known")), *ways]
        self.fields["arm_bend"] = choice(_("Followed outward, the time lines go"), bends, required=False)

    def _build_strip(self) -> None:
        for name in ("first", "second"):
            self._point(name)
            self.fields[f"{name}_value"] = self.number(_("It stands for"), required=True, may_be_negative=True)
            self.fields[f"{name}_at"] = self.printed_time(_("and the time"))
        runs = [(ACROSS, _("across the photo")), (DOWN, _("down the photo, or up"))]
        self.fields["runs"] = choice(_("Time runs"), runs, radio=True)

    def printed_time(self, label: Any) -> forms.Field:
        """A time printed on the paper: it may lie ahead of what has been written."""
        field = self.time(label)
        field.ahead_refused = False
        return field

    def layout(self) -> FormHelper:
        parts = self._strip_layout() if self.shape == STRIP else self._circular_layout()
        bar = ActionBar(_("Keep these marks"), _("Only show them"), out_name=SHOW)
        return helper("form_id", "unit", *parts, bar)

    def _point_row(self, name: str, *more: Any) -> Row:
        return Row(Figure(f"{name}_x"), Figure(f"{name}_y"), *more)

    def _circular_layout(self) -> list[Any]:
        arm = More(
            _("The pen's arm, where the printed time lines are curved"),
            Row(Figure("outer_ruler"), Figure("arm_length"), Figure("arm_pivot")),
            "arm_bend",
        )
        return [
            Div(
                Fieldset(_("The center of the chart"), self._point_row("center")),
                Fieldset(_("A point on a printed time line"), self._point_row("mark"), "first_at"),
                Fieldset(_("A point on an inner printed circle"), self._point_row("inner", Figure("inner_value"))),
                Fieldset(_("A point on an outer printed circle"), self._point_row("outer", Figure("outer_value"))),
                css_class="fit-points",
            ),
            YesNo("turns"),
            arm,
        ]

    def _strip_layout(self) -> list[Any]:
        corners = [
            Fieldset(words, self._point_row(name, Figure(f"{name}_value")), f"{name}_at")
            for name, words in (("first", _("One corner of the ruled field")), ("second", _("The opposite corner")))
        ]
        return [Div(*corners, css_class="fit-points"), YesNo("runs")]

    def field_of(self, name: str) -> str:
        """Its own names."""
        return name

    def fit(self, photo: int) -> FitData:
        """As the act takes it."""
        said = self.cleaned_data
        names = (*MARKS[self.shape], *ARM)
        return FitData(
            form_id=said["form_id"],
            photo=photo,
            shape=self.shape,
            unit=said["unit"],
            marks={name: said[name] for name in names if said.get(name)},
            first_at=said["first_at"],
            second_at=said.get("second_at"),
        )


def marked(form: FitForm) -> list[tuple[str, str]]:
    """The marks of a form, each with its words, for tapping them."""
    if form.shape == STRIP:
        return [("first", _("One corner")), ("second", _("The opposite corner"))]
    return [
        ("center", _("The center")),
        ("inner", _("On the inner circle")),
        ("outer", _("On the outer circle")),
        ("mark", _("On the time line")),
    ]


class CompareForm(FlowForm):
    """Whether photo and trace agree."""

    use_required_attribute = False

    def build(self, plan: Plan) -> None:
        found = [(AGREE, _("Photo and trace agree")), (DISAGREE, _("They disagree"))]
        # The marks by which the person saw the trace: newer ones may have been kept since.
        self.fields["fit"] = forms.IntegerField(
            widget=forms.HiddenInput, min_value=1, max_value=2**63 - 1, error_messages={"required": _STALE}
        )
        self.fields["outcome"] = choice(_("What is seen"), found, radio=True)
        self.fields["disagree_at"] = self.time(_("If they disagree: at what time"), required=False)
        self.fields["because"] = note(_("What was seen there"))

    def layout(self) -> FormHelper:
        bar = ActionBar(_("Record it"))
        return helper("form_id", "fit", "outcome", "disagree_at", "because", bar)

    def field_of(self, name: str) -> str:
        """Its own names."""
        return name

    def compared(self, chart: int, photo: int) -> ComparedData:
        """As the act takes it."""
        said = self.cleaned_data
        return ComparedData(
            said["form_id"], chart, photo, said["outcome"], said["fit"], said["disagree_at"], said["because"]
        )


__all__ = ["SHOW", "CompareForm", "FitForm", "marked"]
