"""What a person may type of samples and results. Forms only parse; the acts decide."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Field, Fieldset, Row
from django import forms
from django.utils.translation import gettext as _

from plant.forms.layout import ActionBar
from plant.hazard_plan.content import Plan
from plant.process.laboratory import CONTROLS, TESTS
from records.flow import choices
from records.flow.common import lot_by_id
from records.flow.fields import choice, note, words
from records.flow.forms import FlowForm, helper
from records.laboratory.actions import TEMPERATURES
from records.laboratory.data import ResultData, SampleData
from records.laboratory.models import KINDS, PLATE, LabResult, Sample
from records.laboratory.words import in_words
from records.recall.codes import LONGEST

LONGEST_TABLE = 200_000
RECORD_ALL = "record_all"


class _Form(FlowForm):
    """A form here; `old` is the row that it amends."""

    use_required_attribute = False  # our own sentence beside the field, not the browser's

    def __init__(self, *args: Any, old: Any = None, **options: Any) -> None:
        self.old = old
        initial = {**options.pop("initial", {}), **(self.known(old) if old is not None else {})}
        super().__init__(*args, initial=initial, **options)
        if old is not None:
            self.fields["amend_reason"] = words(_("Why it is amended"), 400, required=True)
            self.fields["void"] = forms.BooleanField(label=_("It did not happen"), required=False)

    def known(self, old: Any) -> dict[str, Any]:
        """What the amended row says, as the form's first content."""
        raise NotImplementedError

    def last(self, button: Any) -> list[Any]:
        """The end of the form."""
        return ["amend_reason", "void", ActionBar(_("Amend it"))] if self.old is not None else [ActionBar(button)]

    def amending(self) -> dict[str, Any]:
        """What an amendment says beside."""
        given = self.cleaned_data
        if self.old is None:
            return {}
        return {"amends": self.old.number, "amend_reason": given["amend_reason"], "void": given["void"]}


class SampleForm(_Form):
    """A sample taken."""

    def known(self, old: Sample) -> dict[str, Any]:
        names = ("code", "kind", "place", "farm", "taken_by", "temperature_unit", "sent_to", "tests", "kept_where",
                 "kept_until", "words")  # fmt: skip
        lot = lot_by_id(old.lot)
        code = (lot.code or "") if lot is not None else ""
        said = {name: getattr(old, name) for name in names}
        return {**said, "lot_code": code, "temperature": old.temperature_typed, "taken_at": old.observed_at}

    def build(self, plan: Plan) -> None:
        self.fields["code"] = words(_("What stands on the bottle"), 60, required=True)
        self.fields["code"].error_messages["required"] = _("Write what stands on the bottle.")
        self.fields["kind"] = choice(_("Sample"), [(one, in_words(one)) for one in KINDS])
        self.fields["lot_code"] = words(
            _("Code of the lot"), LONGEST, help_text=_("As it stands on the pack, or its label scanned.")
        )
        sites = [(one.code, one.name) for one in plan.equipment]
        places = [(one.code, one.name) for one in choices.in_flow_order(plan)]
        self.fields["place"] = choice(_("Taken at"), [("", "—"), *dict([*places, *sites]).items()], required=False)
        self.fields["farm"] = words(_("Farm"), 120)
        self.fields["tests"] = forms.MultipleChoiceField(
            label=_("Tests"), required=False, help_text=_("At least one; only a retained sample may have none."),
            choices=[(one, in_words(one)) for one in TESTS],
            widget=forms.CheckboxSelectMultiple,
            error_messages={"invalid_choice": _("That is not on the list. Choose one of the list.")},
        )  # fmt: skip
        self.fields["taken_at"] = self.time(_("Taken"))
        self.initial.setdefault("taken_at", self.now)
        self.fields["taken_by"] = words(_("Taken by"), 120, help_text=_("Left empty: you."))
        self.fields["temperature"] = forms.CharField(label=_("Temperature in transport"), required=False, max_length=20)
        own = f"°{plan.plant.temperature_unit}"
        units = [(one, one) for one in dict.fromkeys((own, *TEMPERATURES)) if one in TEMPERATURES]
        self.fields["temperature_unit"] = choice(_("Unit"), units, required=False)
        self.fields["sent_to"] = words(_("Sent to"), 120)
        self.fields["kept_where"] = words(_("Kept where"), 120)
        self.fields["kept_until"] = forms.DateField(
            label=_("Kept until"), required=False, widget=forms.DateInput(attrs={"type": "date"}),
            error_messages={"invalid": _("Write the day as 2026-03-03.")},
        )  # fmt: skip
        self.fields["words"] = note(_("Note"))

    def layout(self) -> FormHelper:
        return helper(
            "form_id",
            Row(Field("code"), Field("kind")),
            Row(Field("lot_code"), Field("place")),
            "farm",
            "tests",
            Row(Field("taken_at"), Field("taken_by")),
            Fieldset(_("On its way"), Row(Field("temperature"), Field("temperature_unit")), "sent_to"),
            Fieldset(_("Where it is retained"), Row(Field("kept_where"), Field("kept_until"))),
            "words",
            *self.last(_("Record the sample")),
        )

    def said(self) -> SampleData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        names = ("form_id", "code", "kind", "lot_code", "place", "farm", "taken_at", "taken_by", "temperature",
                 "temperature_unit", "sent_to", "kept_where", "kept_until", "words")  # fmt: skip
        return SampleData(
            tests=tuple(given["tests"]), **{name: given[name] for name in names}, **self.amending()
        )


class ResultForm(_Form):
    """A result of one sample."""

    def __init__(self, *args: Any, sample: Sample, **options: Any) -> None:
        self.sample = sample
        super().__init__(*args, **options)

    def known(self, old: LabResult) -> dict[str, Any]:
        names = ("test", "typed", "laboratory", "batch", "method", "analyst", "words")
        return {**{name: getattr(old, name) for name in names}, "read_at": old.observed_at}

    def build(self, plan: Plan) -> None:
        asked = [one for one in TESTS if one in self.sample.tests]
        controls = self.sample.kind == PLATE
        others = [one for one in TESTS if one not in asked and (one in CONTROLS) is controls]
        self.fields["test"] = choice(_("Test"), [(one, in_words(one)) for one in (*asked, *others)])
        self.fields["typed"] = words(
            _("Result"), 60, required=True,
            help_text=_("As the laboratory wrote it: 40, <1, 4200 est., TNTC; found or not found."),
        )  # fmt: skip
        self.fields["read_at"] = self.time(_("Result read at"))
        self.initial.setdefault("read_at", self.now)
        self.initial.setdefault("laboratory", self.sample.sent_to)
        self.fields["laboratory"] = words(_("Laboratory"), 120)
        self.fields["batch"] = words(
            _("Batch of plates"), 60, required=False,
            help_text=_("One name for all plates that were poured and read together, the control plates among them."),
        )  # fmt: skip
        self.fields["method"] = words(_("Method"), 120)
        self.fields["analyst"] = words(_("Analyst"), 120)
        self.fields["words"] = note(_("Note"))

    def layout(self) -> FormHelper:
        return helper(
            "form_id", "test", "typed", Row(Field("read_at"), Field("laboratory")),
            "batch", Row(Field("method"), Field("analyst")), "words", *self.last(_("Record the result")),
        )  # fmt: skip

    def said(self) -> ResultData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        names = ("form_id", "test", "typed", "read_at", "laboratory", "batch", "method", "analyst", "words")
        return ResultData(sample=self.sample.number, **{name: given[name] for name in names}, **self.amending())


class TableForm(FlowForm):
    """A laboratory's table, pasted."""

    use_required_attribute = False

    def build(self, plan: Plan) -> None:
        self.fields["table"] = forms.CharField(
            label=_("The table, with its heading"), max_length=LONGEST_TABLE,
            widget=forms.Textarea(attrs={"rows": 10, "spellcheck": "false"}),
            help_text=_("Columns: sample, test, result; laboratory, batch, method and analyst where they are known."),
            error_messages={
                "required": _("There is no result in it."),
                "max_length": _("This is longer than %(limit_value)d characters; shorten it."),
            },
        )  # fmt: skip
        self.fields["read_at"] = self.time(_("Results read at"))
        self.initial.setdefault("read_at", self.now)

    def layout(self) -> FormHelper:
        return helper(
            "form_id", "table", "read_at",
            ActionBar(_("Look at it first"), _("Record all of it"), out_name=RECORD_ALL),
        )  # fmt: skip
