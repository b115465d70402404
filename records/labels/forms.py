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
from records.labels.keeping import Refused, count
from records.labels.models import (
    ANSWERS,
    KINDS,
    THINGS,
    ClearanceCheck,
    LineClearance,
    PackagingCounted,
    PackagingOpened,
)
from records.labels.words import answer_words, kind_words, thing_words
from records.people.forms import SignedLayout, reason_field


def _whole_number(text: str) -> None:
    try:
        count(text, "")
    except Refused as refused:
        raise forms.ValidationError(str(refused.sentence)) from refused


class LineForm(FlowForm):
    """A form about a filling line."""

    use_required_attribute = False  # our own sentence beside the field, not the browser's

    def __init__(self, *args: Any, now: datetime, old: Any = None, **options: Any) -> None:
        self.old = old
        known = {**self.known(old), "at": old.observed_at, "note": old.note} if old is not None else {"at": now}
        options["initial"] = {**known, **(options.get("initial") or {})}
        super().__init__(*args, now=now, **options)
        if old is not None:
            self.fields["amend_reason"] = reason_field(_("Why it is amended"))
            self.fields["amend_reason"].error_messages["required"] = _("Write why it is amended.")

    def known(self, old: Any) -> dict[str, Any]:
        """What the amended entry says, as the form's first content."""
        return {}

    def ending(self, main: Any) -> list[Any]:
        """Why it is amended, who signs, and the one act."""
        why = ["amend_reason"] if self.old is not None else []
        signs = [Row(Field("signer"), Field("signer_secret"))] if "signer" in self.fields else []
        return [*why, *signs, ActionBar(_("Sign the amendment") if self.old is not None else main)]

    def amended(self) -> dict[str, Any]:
        """What an amendment says beside its act."""
        if self.old is None:
            return {}
        return {"amends": self.old.number, "amend_reason": self.cleaned_data["amend_reason"]}

    def field_of(self, name: str) -> str:
        """Its own names."""
        return name

    def ask_product(self, plan: Plan, label: Any) -> forms.ChoiceField:
        sold = [("", "—"), *products(plan)]
        return choice(label, sold)

    def count_field(self, label: Any, *, help_text: Any = "") -> forms.CharField:
        found = words(label, 20, help_text=help_text)
        found.validators.append(_whole_number)  # said together with what else is wrong, not after it
        found.widget.attrs |= {"inputmode": "numeric", "autocomplete": "off"}
        return found


class ClearForm(SignedLayout, LineForm):
    """A line cleared, thing by thing, signed."""

    def known(self, old: LineClearance) -> dict[str, Any]:
        said = {one["thing"]: one["answer"] for one in old.things}
        return {"product": old.product, **said, **{f"{one['thing']}_count": one["count"] for one in old.things}}

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
            *self.ending(_("Sign the clearance")),
        )

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
            **self.amended(),
        )


class CheckForm(SignedLayout, LineForm):
    """The second person's look, signed."""

    def known(self, old: ClearanceCheck) -> dict[str, Any]:
        return {"agrees": "yes" if old.agrees else "no"}

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
            *self.ending(_("Sign as the second person")),
        )

    def checked(self, clearance: int) -> CheckData:
        """As the act takes it."""
        said = self.cleaned_data
        agrees = said["agrees"] == "yes"
        return CheckData(said["form_id"], clearance, agrees, said["at"], said["note"], **self.amended())


class OpenForm(LineForm):
    """A roll or sleeve opened."""

    def known(self, old: PackagingOpened) -> dict[str, Any]:
        names = ("kind", "roll_code", "product", "printed", "used")
        return {**{name: getattr(old, name) for name in names}, "issued": old.issued_typed}

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
            *self.ending(_("Record what is printed on it")),
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
            **self.amended(),
        )


class CountForm(LineForm):
    """A roll or sleeve off the line, counted."""

    def known(self, old: PackagingCounted) -> dict[str, Any]:
        typed = {name: getattr(old, f"{name}_typed") for name in ("used", "returned", "damaged")}
        return {**typed, "because": old.because}

    def build(self, plan: Plan) -> None:
        self.fields["at"] = self.time(_("Counted at"))
        for name, label in (("used", _("Used on packs")), ("returned", _("Returned to the store")),
                            ("damaged", _("Damaged, destroyed"))):  # fmt: skip
            self.fields[name] = self.count_field(label)
        self.fields["because"] = note(_("If it does not come out even: why, as far as known"))
        self.fields["note"] = note(_("Note"))

    def layout(self) -> FormHelper:
        counts = Row(Field("used"), Field("returned"), Field("damaged"))
        return helper("form_id", "at", counts, "because", "note", *self.ending(_("Record the count")))

    def counted(self, opened: int) -> CountedData:
        """As the act takes it."""
        said = self.cleaned_data
        return CountedData(
            said["form_id"], opened, said["at"], said["used"], said["returned"], said["damaged"], said["because"],
            said["note"], **self.amended(),
        )  # fmt: skip


class AmendOpenForm(SignedLayout, OpenForm):
    """A roll or sleeve opened, as it should have been recorded; signed."""


class AmendCountForm(SignedLayout, CountForm):
    """A count as it should have been recorded; signed."""


class VoidForm(SignedLayout, LineForm):
    """An entry that did not happen; signed."""

    def build(self, plan: Plan) -> None:
        self.fields["amend_reason"] = reason_field(_("Why it does not stand"))

    def layout(self) -> FormHelper:
        return helper(
            "form_id",
            "amend_reason",
            Row(Field("signer"), Field("signer_secret")),
            ActionBar(_("It did not happen: strike it through")),
        )
