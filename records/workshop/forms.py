"""What a person may type about work, seals and what the regulator was told. Forms only parse; the acts decide."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Field, Fieldset, Row
from django import forms
from django.utils.translation import gettext as _

from plant.forms.layout import ActionBar, Figure, YesNo
from plant.hazard_plan.content import Plan
from records.flow.fields import choice, note, words
from records.flow.forms import FlowForm, helper
from records.people.forms import SignatureFields
from records.workshop import seals, telling
from records.workshop.data import NoticeData, SealData, SealMoved, WorkData
from records.workshop.keeping import press_of
from records.workshop.parts import PARTS, part_choices
from records.workshop.sealing import LONGEST_NAME, LONGEST_NUMBER
from records.workshop.words import in_words
from records.workshop.working import MOST_COUNTED

YES, NO = "yes", "no"
REGULATOR, PLANT = "regulator", "plant"


def yes_no(label: Any, help_text: Any = "", *, required: bool = True) -> forms.ChoiceField:
    """Yes or no, neither chosen beforehand."""
    said = [(YES, _("yes")), (NO, _("no"))]
    return choice(label, said, required=required, help_text=help_text, radio=True)


def whose(label: Any, *, required: bool = True) -> forms.ChoiceField:
    """The regulator or the plant, neither chosen beforehand."""
    return choice(label, [(REGULATOR, _("the regulator")), (PLANT, _("the plant"))], required=required, radio=True)


class WorkshopForm(FlowForm):
    """A form of one place. `place` is its code; what the form amends comes with `amends`."""

    main: Any = ""

    def __init__(self, *args: Any, place: str, amends: int | None = None, **options: Any) -> None:
        self.place, self.amends = place, amends
        super().__init__(*args, **options)

    def parts(self) -> list[Any]:
        """The rows of its layout."""
        raise NotImplementedError

    def layout(self) -> FormHelper:
        signed = ["amend_reason", Row(Field("signer"), Field("signer_secret"))] if self.amends is not None else []
        return helper("form_id", *self.parts(), *signed, ActionBar(self.main))

    def common(self) -> dict[str, Any]:
        """What every act says."""
        data = self.cleaned_data
        return {
            "form_id": data["form_id"],
            "place": self.place,
            "at": data["at"],
            "note": data.get("note", ""),
            "amends": self.amends,
            "amend_reason": data.get("amend_reason", ""),
        }

    def count(self, label: Any) -> forms.IntegerField:
        """How many, or nothing."""
        whole = {"invalid": _("Enter a whole number, zero or more.")}
        low = {"min_value": whole["invalid"], "max_value": whole["invalid"]}
        return forms.IntegerField(
            label=label, required=False, min_value=0, max_value=MOST_COUNTED, error_messages={**whole, **low}
        )


class AmendFields(SignatureFields):
    """The reason of an amendment, and both components afresh."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.fields["amend_reason"] = note(_("Why it is amended"), required=True)
        self.main = _("Sign the amendment")

    @property
    def helper(self) -> FormHelper:
        """The form's own layout, with the signature at its end."""
        laid_out: FormHelper = self.layout()  # type: ignore[attr-defined]
        return laid_out


class WorkForm(WorkshopForm):
    """Work on a part of one place."""

    def build(self, plan: Plan) -> None:
        self.main = _("Record the work")
        self.fields["part"] = choice(_("Part"), [("", "—"), *part_choices()])
        self.fields["what"] = note(_("What was done"), required=True)
        self.fields["worker"] = words(_("By whom"), LONGEST_NAME, required=True)
        self.fields["started_at"] = self.time(_("From"))
        self.fields["at"] = self.time(_("Until"))
        self.seal_places = self._seal_places() if self.amends is None else []
        for index, (_key, name) in enumerate(self.seal_places):
            broken = _("Seal at %(where)s: number of the one broken") % {"where": name}
            self.fields[f"broken_{index}"] = words(broken, LONGEST_NUMBER)
            self.fields[f"renewed_{index}"] = words(_("Number of the new one"), LONGEST_NUMBER)
        if self.seal_places:
            self.fields["sealed_by"] = words(_("New seals set by"), LONGEST_NAME)
            self.fields["by_regulator"] = whose(_("Whose seal is the new one"), required=False)
        self.fields["opened"] = yes_no(_("Were surfaces opened that touch product?"))
        self.fields["tools_before"] = self.count(_("Tools taken there"))
        self.fields["tools_after"] = self.count(_("Tools brought back"))
        self.fields["parts_before"] = self.count(_("Parts taken off or brought"))
        self.fields["parts_after"] = self.count(_("Parts put back or brought away"))
        self.fields["count_note"] = note(_("If the counts differ: what is missing, and where it may be"))
        self.fields["cleaned"] = forms.BooleanField(label=_("Washed after it"), required=False)
        self.fields["sanitized"] = forms.BooleanField(label=_("Sanitized after it"), required=False)
        self.fields["note"] = note(_("Note"))

    def _seal_places(self) -> list[tuple[str, str]]:
        if not press_of(self.in_force, self.place):
            return []
        return [(key, one.words) for key, one in seals.stories(self.place, self.now).items()]

    def parts(self) -> list[Any]:
        moved = [
            Row(Field(f"broken_{index}"), Field(f"renewed_{index}")) for index in range(len(self.seal_places))
        ]
        if moved:
            moved = [Fieldset(_("Seals"), *moved, Row(Field("sealed_by"), Field("by_regulator")))]
        return [
            "part",
            "what",
            Row(Field("worker"), Field("started_at"), Field("at")),
            *moved,
            YesNo("opened"),
            Fieldset(
                _("Counted"),
                Row(Figure("tools_before"), Figure("tools_after")),
                Row(Figure("parts_before"), Figure("parts_after")),
                "count_note",
            ),
            "cleaned",
            "sanitized",
            "note",
        ]

    def said(self) -> WorkData:
        """What was typed, as the act takes it."""
        data = self.cleaned_data
        counts = {name: data[name] for name in ("tools_before", "tools_after", "parts_before", "parts_after")}
        moved = tuple(
            SealMoved(seal_place=key, broken=data[f"broken_{index}"], renewed=data[f"renewed_{index}"])
            for index, (key, _name) in enumerate(self.seal_places)
        )
        by = data.get("by_regulator", "")
        return WorkData(
            **self.common(),
            **counts,
            part=data["part"],
            what=data["what"],
            worker=data["worker"],
            started_at=data["started_at"],
            opened=data["opened"] == YES,
            seals=moved,
            sealed_by=data.get("sealed_by", ""),
            by_regulator=by == REGULATOR if by else None,
            count_note=data["count_note"],
            cleaned=data["cleaned"],
            sanitized=data["sanitized"],
        )


class SealForm(WorkshopForm):
    """One act on one seal."""

    def build(self, plan: Plan) -> None:
        self.main = _("Record it")
        known = {key: one.words for key, one in seals.stories(self.place, self.now).items()}
        others = {key: str(part.name) for key, part in PARTS.items() if key not in known}
        self.fields["seal_place"] = choice(_("Seal at"), [("", "—"), *known.items(), *others.items()])
        self.fields["what"] = choice(_("What"), [(one, in_words(one)) for one in seals.ACTS], radio=True)
        of_new = _("Of the new one, if renewed.")
        self.fields["number"] = words(_("Number on the seal"), LONGEST_NUMBER, help_text=of_new)
        self.fields["at"] = self.time(_("When"))
        self.fields["sealed_by"] = words(_("Set by"), LONGEST_NAME, help_text=_("For a seal set or renewed."))
        self.fields["by_regulator"] = whose(_("Whose seal is the new one"), required=False)
        self.fields["note"] = note(_("Note"))

    def parts(self) -> list[Any]:
        return [
            "seal_place",
            "what",
            Row(Field("number"), Field("at")),
            Row(Field("sealed_by"), Field("by_regulator")),
            "note",
        ]

    def said(self) -> SealData:
        """What was typed, as the act takes it."""
        data = self.cleaned_data
        by = data["by_regulator"]
        return SealData(
            **self.common(),
            seal_place=data["seal_place"],
            what=data["what"],
            number=data["number"],
            sealed_by=data["sealed_by"],
            by_regulator=by == REGULATOR if by else None,
        )


class NoticeForm(WorkshopForm):
    """What the regulator was told of one entry."""

    def __init__(self, *args: Any, subject: tuple[str, int], **options: Any) -> None:
        self.subject = subject
        super().__init__(*args, **options)

    def build(self, plan: Plan) -> None:
        self.main = _("Record it")
        self.fields["what"] = choice(_("What"), [(one, in_words(one)) for one in telling.WHAT], radio=True)
        self.fields["told_by"] = words(_("By whom"), telling.LONGEST_NAME, required=True)
        self.fields["told_whom"] = words(
            _("Whom"), telling.LONGEST_WHOM, required=True, help_text=_("Name or office, and number called.")
        )
        self.fields["at"] = self.time(_("When"))
        self.fields["how"] = choice(_("How"), [("", "—"), *((one, in_words(one)) for one in telling.HOW)])
        self.fields["answer"] = note(_("What the regulator answered"))
        self.fields["note"] = note(_("Note"))

    def parts(self) -> list[Any]:
        return ["what", Row(Field("told_by"), Field("told_whom")), Row(Field("at"), Field("how")), "answer", "note"]

    def said(self) -> NoticeData:
        """What was typed, as the act takes it."""
        data = self.cleaned_data
        kind, number = self.subject
        return NoticeData(
            **self.common(),
            subject_kind=kind,
            subject_number=number,
            what=data["what"],
            told_by=data["told_by"],
            told_whom=data["told_whom"],
            how=data["how"],
            answer=data["answer"],
        )


class AmendWorkForm(AmendFields, WorkForm):
    """A work as it should have been recorded."""


class AmendSealForm(AmendFields, SealForm):
    """A seal act as it should have been recorded."""


class AmendNoticeForm(AmendFields, NoticeForm):
    """A notice as it should have been recorded."""


class VoidForm(SignatureFields):
    """That an entry did not happen: why, and a signature."""

    main = ""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        own = {"form_id": forms.UUIDField(widget=forms.HiddenInput), "amend_reason": note(_("Why"), required=True)}
        self.fields = {**own, **self.fields}
        self.main = _("Sign: it did not happen")
