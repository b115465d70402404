"""What a person may type of a training. Forms only parse; the act decides."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Field, Row
from django import forms
from django.utils.translation import gettext as _

from plant.forms.layout import ActionBar
from plant.hazard_plan.content import Plan
from plant.hazard_plan.words import topic
from records.flow.fields import choice, words
from records.flow.forms import helper
from records.ingredients.forms import KeptForm
from records.training.data import PROVEN, TrainingData
from records.training.models import Training
from records.training.queries import staff, trained_here
from records.training.words import proven_words
from records.workshop import reports_kept


class TrainingForm(KeptForm):
    """One training of one or several people. It is recorded now; its own day may be long past."""

    row: Training | None
    fields_of_row = ("training", "topic", "trained_on", "trainer", "proven", "ends_on")

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        del self.fields["at"]

    def known(self, row: Any) -> dict[str, Any]:
        topic_typed = "" if row.training else row.topic
        return {**super().known(row), "people": [one["id"] for one in row.people], "topic": topic_typed}

    def build(self, plan: Plan) -> None:
        asked = [(one.key, topic(one)) for one in plan.trainings]
        old = self.row
        if old is not None and old.training and old.training not in dict(asked):
            asked.append((old.training, old.topic))
        self.fields["training"] = choice(
            _("Training"), [("", _("another one, named below")), *asked], required=False,
            help_text=_("As the plan names it."),
        )  # fmt: skip
        self.fields["topic"] = words(_("Another one: its topic"), 200)
        self.fields["people"] = forms.MultipleChoiceField(
            label=_("People trained"),
            choices=self._people(),
            widget=forms.CheckboxSelectMultiple,
            help_text=_("Whoever was there and met what was asked. Who did not is trained again: say so in the note."),
            error_messages={
                "required": _("Tick at least one person."),
                "invalid_choice": _("Somebody of these is not in the book. Choose from the list."),
            },
        )
        self.fields["trained_on"] = self.day(_("Day of the training"))
        self.fields["trainer"] = words(
            _("Trained by"), 120, required=True, help_text=_("Name, and firm or school where it is one from outside.")
        )
        self.fields["proven"] = choice(_("How it was proven"), [(one, proven_words(one)) for one in PROVEN], radio=True)
        self.fields["ends_on"] = self.day(
            _("The certificate itself ends on"), required=False,
            help_text=_("Empty where it names no day. The earlier of this and the plan's months counts."),
        )  # fmt: skip
        self.fields["certificate"] = reports_kept.report_field()
        self.fields["certificate"].label = _("Certificate or attendance list")
        self.initial.setdefault("trained_on", self.in_force.calendar.local(self.now).date())

    def _people(self) -> list[tuple[str, str]]:
        found = {str(one.id): one.name for one in staff(self.now) if trained_here(one, self.now)}
        if self.row is not None:  # who has left since stays on the record that is amended
            found = {**{one["id"]: one["name"] for one in self.row.people}, **found}
        return sorted(found.items(), key=lambda one: one[1])

    def layout(self) -> FormHelper:
        ends = ["note", "reason", "void", ActionBar(_("Amend it"))] if self.row else ["note", ActionBar(_("Record it"))]
        return helper(
            "form_id", "training", "topic", "people", Row(Field("trained_on"), Field("trainer")), "proven",
            Row(Field("ends_on"), Field("certificate")), *ends,
        )  # fmt: skip

    def clean_certificate(self) -> Any:
        """Keep the bytes of what was sent."""
        return reports_kept.read(self.cleaned_data.get("certificate"))

    def clean(self) -> dict[str, Any]:
        given = self.cleaned_data
        if "training" in given and not given["training"] and not given.get("topic"):
            self.add_error("topic", _("Write which training it was, or choose one above."))
        if given.get("training") and given.get("topic"):
            self.add_error("topic", _("A training is chosen above. Take this out, or choose 'another one'."))
        return given

    def said(self) -> TrainingData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        given.setdefault("at", self.row.observed_at if self.row is not None else self.now)
        return TrainingData(
            **self.common(),
            training=given["training"],
            topic="" if given["training"] else given["topic"],
            people=tuple(UUID(one) for one in given["people"]),
            trained_on=given["trained_on"],
            trainer=given["trainer"],
            proven=given["proven"],
            ends_on=given["ends_on"],
            certificate=given["certificate"],
        )
