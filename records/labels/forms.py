"""What a person may type about a filling line. Forms only parse; the acts decide."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Field, Fieldset, Row
from django import forms
from django.utils.translation import gettext as _

from plant.forms.layout import ActionBar, YesNo
from plant.hazard_plan.content import Plan
from records.checks import photos
from records.checks.forms import YES_NO, photo_field
from records.flow.choices import products
from records.flow.fields import choice, note, words
from records.flow.forms import FlowForm, helper
from records.labels.data import CheckData, ClearData, CountedData, OpenedData
from records.labels.models import ANSWERS, KINDS, THINGS
from records.labels.words import answer_words, kind_words, thing_words
from records.people.forms import SignatureFields, reason_field


class LineForm(FlowForm):
    """A form about a filling line."""

    use_required_attribute = False  # our own sentence beside the field, not the browser's

    def __init__(self, *args: Any, now: datetime, **options: Any) -> None:
        options["initial"] = {"at": now, **(options.get("initial") or {})}
        super().__init__(*args, now=now, **options)

    def field_of(self, name: str) -> str:
        """Its own names."""
        return name

    def ask_product(self, plan: Plan, label: Any) -> forms.ChoiceField:
        sold = [("", "—"), *products(plan)]
        return choice(label, sold)

    def count_field(self, label: Any, *, help_text: Any = "") -> forms.CharField:
        found = words(label, 20, help_text=help_text)
        found.widget.attrs |= {"inputmode": "numeric", "autocomplete": "off"}
        return found


class ClearForm(SignatureFields, LineForm):
    """A line cleared, thing by thing, signed."""

    def build(self, plan: Plan) -> None:
        self.fields["product"] = self.ask_product(plan, _("Cleared for (the next product)"))
        self.fields["at"] = self.time(_("Cleared at"))
        answers = [(one, answer_words(one)) for one in ANSWERS]
        for thing in THINGS:
            self.fields[thing] = choice(thing_words(thing), answers, radio=True)
            self.fields[f"{thing}_count"] = self.count_field(_("How many were taken off"))
        self.fields["note"] = note(_("Note"))

    def layout(self) -> FormHelper:
        things = [Row(Field(one), Field(f"{one}_count")) for one in THINGS]
        return helper(
            "form_id",
            Row(Field("product"), Field("at")),
            Fieldset(_("What was on the line"), *things),
            "note",
            Row(Field("signer"), Field("signer_secret")),
            ActionBar(_("Sign the clearance")),
        )

    @property
    def helper(self) -> FormHelper:
        """Its own layout, with the signature at its end."""
        return self.layout()

    def cleared(self, place: str) -> ClearData:
        """As the act takes it."""
        said = self.cleaned_data
        return ClearData(
            form_id=said["form_id"],
            place=place,
            product=said["product"],
            at=said["at"],
            answers={one: said[one] for one in THINGS},
            counts={one: said[f"{one}_count"] for one in THINGS},
            note=said["note"],
        )


class CheckForm(SignatureFields, LineForm):
    """The second person's look, signed."""

    def build(self, plan: Plan) -> None:
        self.fields["agrees"] = choice(_("Did you find the line clear?"), YES_NO, radio=True)
        self.fields["at"] = self.time(_("Looked at"))
        self.fields["note"] = note(_("What was found, if anything"))

    def layout(self) -> FormHelper:
        return helper(
            "form_id",
            YesNo("agrees"),
            "at",
            "note",
            Row(Field("signer"), Field("signer_secret")),
            ActionBar(_("Sign as the second person")),
        )

    @property
    def helper(self) -> FormHelper:
        """Its own layout, with the signature at its end."""
        return self.layout()

    def checked(self, clearance: int) -> CheckData:
        """As the act takes it."""
        said = self.cleaned_data
        return CheckData(said["form_id"], clearance, said["agrees"] == "yes", said["at"], said["note"])


class OpenForm(LineForm):
    """A roll or sleeve opened."""

    def build(self, plan: Plan) -> None:
        self.fields["kind"] = choice(_("What"), [(one, kind_words(one)) for one in KINDS], radio=True)
        self.fields["roll_code"] = words(
            _("Lot code of the roll or sleeve"), 60, required=True, help_text=_("Scan it, or type it as it stands.")
        )
        self.fields["product"] = self.ask_product(plan, _("Product that is filled"))
        self.fields["printed"] = self.ask_product(plan, _("Product printed on it"))
        self.fields["at"] = self.time(_("Opened at"))
        self.fields["issued"] = self.count_field(_("Pieces issued"), help_text=_("As on its tag; empty if not known."))
        self.fields["used"] = forms.BooleanField(
            label=_("It is not the right one, and packs had it already"), required=False
        )
        self.fields["photo"] = photo_field(_("Photo of the first one"))
        self.fields["photo"].required = False
        self.fields["note"] = note(_("Note"))

    def layout(self) -> FormHelper:
        return helper(
            "form_id",
            "kind",
            "roll_code",
            Row(Field("product"), Field("printed")),
            Row(Field("at"), Field("issued")),
            "photo",
            "used",
            "note",
            ActionBar(_("Record what is printed on it")),
        )

    def clean_photo(self) -> photos.Photo | None:
        """The picture's bytes, checked to be one."""
        return photos.read(self.cleaned_data.get("photo"))

    def opened(self, place: str) -> OpenedData:
        """As the act takes it."""
        said = self.cleaned_data
        return OpenedData(
            form_id=said["form_id"],
            place=place,
            product=said["product"],
            kind=said["kind"],
            roll_code=said["roll_code"],
            printed=said["printed"],
            at=said["at"],
            issued=said["issued"],
            used=said["used"],
            photo=said["photo"],
            note=said["note"],
        )


class CountForm(LineForm):
    """A roll or sleeve off the line, counted."""

    def build(self, plan: Plan) -> None:
        self.fields["at"] = self.time(_("Counted at"))
        for name, label in (("used", _("Used on packs")), ("returned", _("Returned to the store")),
                            ("damaged", _("Damaged, destroyed"))):  # fmt: skip
            self.fields[name] = self.count_field(label)
        self.fields["because"] = note(_("If it does not come out even: why, as far as known"))
        self.fields["note"] = note(_("Note"))

    def layout(self) -> FormHelper:
        counts = Row(Field("used"), Field("returned"), Field("damaged"))
        return helper("form_id", "at", counts, "because", "note", ActionBar(_("Record the count")))

    def counted(self, opened: int) -> CountedData:
        """As the act takes it."""
        said = self.cleaned_data
        return CountedData(
            said["form_id"], opened, said["at"], said["used"], said["returned"], said["damaged"], said["because"],
            said["note"],
        )  # fmt: skip


class VoidForm(LineForm):
    """An entry that did not happen as it stands."""

    def build(self, plan: Plan) -> None:
        self.fields["amend_reason"] = reason_field(_("Why it does not stand"))

    def layout(self) -> FormHelper:
        return helper("form_id", "amend_reason", ActionBar(_("It did not happen: strike it through")))
