"""What a person may type of strainers, the metal detector, parts and breakages. Forms only parse; the acts decide."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Field, Row
from django import forms
from django.utils.translation import gettext as _

from plant.forms.layout import ActionBar, Figure, YesNo
from plant.hazard_plan.content import Plan
from records.checks import photos
from records.flow.fields import choice, note, words
from records.flow.forms import FlowForm, helper
from records.foreign_matter import actions, data, queries
from records.foreign_matter.models import Breakage, DetectorChallenge, Look, PartsCount, StrainerLook
from records.foreign_matter.plan_checks import check_of, planned_pieces
from records.foreign_matter.words import AFTER, ANSWERS, MAGNET, MATERIALS, METALS, STRAINER, WHEN, in_words
from records.people.forms import SignedLayout

YES, NO = "yes", "no"
ROWS = 12
LONGEST_PART = 80


def yes_no(label: Any, *, required: bool = True, help_text: Any = "") -> forms.ChoiceField:
    """Yes or no, neither chosen beforehand."""
    return choice(label, [(YES, _("yes")), (NO, _("no"))], required=required, radio=True, help_text=help_text)


class LookForm(FlowForm):
    """A form of one place. `old` is the row that it amends."""

    use_required_attribute = False  # our own sentence beside the field, not the browser's
    main: Any = ""
    act: Any = None

    def __init__(self, *args: Any, place: str, old: Any = None, **options: Any) -> None:
        self.place, self.old = place, old
        initial = {**options.pop("initial", {}), **(self.known(old) if old is not None else {})}
        super().__init__(*args, initial=initial, **options)
        self.fields["at"] = self.time(_("When"))
        self.initial.setdefault("at", old.observed_at if old is not None else self.now)
        self.fields["photo"] = forms.FileField(
            label=_("Photo"), required=False, widget=forms.FileInput(attrs={"accept": "image/*"})
        )
        self.fields["note"] = note(_("Note"))
        if old is not None:
            self.fields["amend_reason"] = words(_("Why it is amended"), 400, required=True)
            self.fields["amend_reason"].error_messages["required"] = _("Write why it is amended.")
            self.fields["void"] = forms.BooleanField(label=_("It did not happen"), required=False)

    def known(self, old: Any) -> dict[str, Any]:
        """What the amended row says, as the form's first content."""
        return {"note": old.note}

    def parts(self) -> list[Any]:
        """The rows of its layout."""
        raise NotImplementedError

    def own(self) -> dict[str, Any]:
        """What this kind says."""
        raise NotImplementedError

    def layout(self) -> FormHelper:
        signs = Row(Field("signer"), Field("signer_secret"))
        last = ["amend_reason", "void", signs] if self.old is not None else []
        main = _("Sign the amendment") if self.old is not None else self.main
        return helper("form_id", *self.parts(), "at", "photo", "note", *last, ActionBar(main))

    def clean_photo(self) -> Any:
        """The picture by what its bytes say."""
        return photos.read(self.cleaned_data.get("photo"))

    def save(self, by: Any) -> Look:
        """Keep it. The photo's bytes are on disk before the act."""
        given = self.cleaned_data
        kept = photos.put(given.get("photo"))
        said = {
            "form_id": given["form_id"],
            "place": self.place,
            "at": given["at"],
            "note": given["note"],
            "photo": kept.get("file", ""),
            "photo_name": kept.get("file_name", ""),
            "photo_mime": kept.get("file_mime", ""),
            "amends": self.old.number if self.old is not None else None,
            "amend_reason": given.get("amend_reason", ""),
            "void": given.get("void", False),
        }
        saved: Look = type(self).act(by, self.made(**said, **self.own()))
        return saved

    made: Any = None


class StrainerForm(LookForm):
    """A strainer, sieve or filter."""

    device = STRAINER
    act = staticmethod(actions.record_strainer)
    made = staticmethod(data.StrainerData)

    def known(self, old: StrainerLook) -> dict[str, Any]:
        said = {"after": old.after, "found": old.found, "length": old.length_typed, "hard": old.hard}
        return {**super().known(old), **said}

    def build(self, plan: Plan) -> None:
        self.main = _("Record what was seen")
        check = check_of(self.device, self.place, self.in_force)
        own = check is not None and check.answer.kind == "choice"
        known = check.answer.choices if check is not None and own else ANSWERS[self.device]
        self.fields["found"] = choice(
            _("What was found"), [(one, in_words(one)) for one in known], radio=True,
            help_text=_("This answers the plan's check: %(what)s") % {"what": self.in_force.what_of(check)}
            if check is not None else "",
        )  # fmt: skip
        self.fields["after"] = choice(_("Looked at"), [(one, in_words(one)) for one in AFTER], radio=True)
        self.fields["length"] = self.number(
            _("Longest dimension of what was caught"), help_text=_("Only where something was found.")
        )
        self.fields["hard"] = yes_no(_("Hard or sharp?"), required=False)

    def parts(self) -> list[Any]:
        return ["found", "after", Figure("length", "mm"), YesNo("hard")]

    def own(self) -> dict[str, Any]:
        given = self.cleaned_data
        return {"device": self.device, **{name: given[name] for name in ("after", "found", "length", "hard")}}


class MagnetForm(StrainerForm):
    """A magnet pulled and wiped."""

    device = MAGNET


class ChallengeForm(LookForm):
    """The metal detector with its three test pieces."""

    act = staticmethod(actions.record_challenge)
    made = staticmethod(data.ChallengeData)

    def known(self, old: DetectorChallenge) -> dict[str, Any]:
        said: dict[str, Any] = {"when": old.when, "rejected": YES if old.rejected else NO}
        for one in old.pieces:
            said[f"size_{one['metal']}"] = one["size"]
            said[f"seen_{one['metal']}"] = YES if one["seen"] else NO
        return {**super().known(old), **said}

    def build(self, plan: Plan) -> None:
        self.main = _("Record the challenge")
        sizes = planned_pieces(plan)
        self.fields["when"] = choice(_("Challenged"), [(one, in_words(one)) for one in WHEN], radio=True)
        for metal in METALS:
            named = {"metal": in_words(metal)}
            self.fields[f"size_{metal}"] = self.number(_("Test piece, %(metal)s: size") % named, required=True)
            self.fields[f"seen_{metal}"] = yes_no(_("Test piece, %(metal)s: detected?") % named)
            if sizes[metal]:  # the plan's pieces; what they showed is never filled in
                self.initial.setdefault(f"size_{metal}", sizes[metal])
                self.fields[f"size_{metal}"].help_text = _("The plan: %(size)s mm.") % {"size": sizes[metal]}
        self.fields["rejected"] = yes_no(_("Was each piece rejected, or the belt stopped?"))

    def parts(self) -> list[Any]:
        pieces = [part for one in METALS for part in (Figure(f"size_{one}", "mm"), YesNo(f"seen_{one}"))]
        return ["when", *pieces, YesNo("rejected")]

    def own(self) -> dict[str, Any]:
        given = self.cleaned_data
        pieces = tuple(
            data.Piece(metal=one, size=given[f"size_{one}"], seen=given[f"seen_{one}"] == YES) for one in METALS
        )
        return {"when": given["when"], "pieces": pieces, "rejected": given["rejected"] == YES}


class CountForm(LookForm):
    """The count list: its parts are those of the last count; the numbers counted are never filled in."""

    act = staticmethod(actions.record_count)
    made = staticmethod(data.CountData)

    def known(self, old: PartsCount) -> dict[str, Any]:
        said: dict[str, Any] = {}
        for index, one in enumerate(old.parts):
            said |= {f"part_{index}": one["part"], f"listed_{index}": one["listed"], f"counted_{index}": one["counted"]}
        return {**super().known(old), **said}

    def build(self, plan: Plan) -> None:
        self.main = _("Record the count")
        last = queries.last_counted(self.place) if self.old is None else None
        rows = self.old.parts if self.old is not None else last.parts if last is not None else []
        self.rows = max(ROWS, len(rows) + 3)
        for index in range(self.rows):
            named = {"number": index + 1}
            self.fields[f"part_{index}"] = words(_("Part %(number)s") % named, LONGEST_PART)
            self.fields[f"listed_{index}"] = _count(_("On the list"))
            self.fields[f"counted_{index}"] = _count(_("Counted"))
        if last is not None:
            for index, one in enumerate(last.parts):
                self.initial.setdefault(f"part_{index}", one["part"])
                self.initial.setdefault(f"listed_{index}", one["listed"])

    def parts(self) -> list[Any]:
        return [
            Row(Field(f"part_{index}"), Field(f"listed_{index}"), Field(f"counted_{index}"))
            for index in range(self.rows)
        ]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or self.cleaned_data
        for index in range(self.rows):
            name, listed, counted = (given.get(f"{one}_{index}") for one in ("part", "listed", "counted"))
            for field, value in ((f"listed_{index}", listed), (f"counted_{index}", counted)):
                if name and value is None and field not in self.errors:
                    self.add_error(field, _("Enter a number."))
            if not name and (listed is not None or counted is not None):
                self.add_error(f"part_{index}", _("Write which part it is."))
        return given

    def own(self) -> dict[str, Any]:
        given = self.cleaned_data
        return {
            "parts": tuple(
                data.Part(
                    name=given[f"part_{index}"], listed=given[f"listed_{index}"], counted=given[f"counted_{index}"]
                )
                for index in range(self.rows)
                if given[f"part_{index}"]
            )
        }


class BreakageForm(LookForm):
    """Glass, hard plastic or ceramic that broke."""

    act = staticmethod(actions.record_breakage)
    made = staticmethod(data.BreakageData)

    def known(self, old: Breakage) -> dict[str, Any]:
        typed = ("material", "what", "spot", "cleared", "whole_at")
        said: dict[str, Any] = {name: getattr(old, name) for name in typed}
        said |= {name: YES if getattr(old, name) else NO for name in ("all_found", "near")}
        return {**super().known(old), **said}

    def build(self, plan: Plan) -> None:
        self.main = _("Record the breakage")
        made_of = [(one, in_words(one)) for one in MATERIALS]
        self.fields["material"] = choice(_("What it is made of"), made_of, radio=True)
        self.fields["what"] = words(_("What broke"), 200, required=True)
        self.fields["spot"] = words(_("Where exactly"), 200, required=True)
        self.fields["near"] = yes_no(
            _("Was product, an open vessel or packaging nearby?"),
            help_text=_("Then what was here since it was last seen whole is held."),
        )
        self.fields["whole_at"] = self.time(
            _("Last seen whole"),
            required=False,
            help_text=_("Left empty: all product since the book began is in question."),
        )
        self.fields["all_found"] = yes_no(_("Were all pieces found and put together?"))
        self.fields["cleared"] = note(_("Area cleared, and how"))

    def parts(self) -> list[Any]:
        return [
            "material", Row(Field("what"), Field("spot")), YesNo("near"), "whole_at", YesNo("all_found"), "cleared",
        ]  # fmt: skip

    def own(self) -> dict[str, Any]:
        given = self.cleaned_data
        return {
            **{name: given[name] for name in ("material", "what", "spot", "cleared", "whole_at")},
            "all_found": given["all_found"] == YES,
            "near": given["near"] == YES,
        }


def _count(label: Any) -> forms.IntegerField:
    whole = _("Enter a whole number, zero or more.")
    wrong = {"invalid": whole, "min_value": whole, "max_value": whole}
    return forms.IntegerField(
        label=label, required=False, min_value=0, max_value=actions.MOST_PIECES, error_messages=wrong
    )


FORMS: dict[str, type[LookForm]] = {
    "strainer": StrainerForm, "magnet": MagnetForm, "detector": ChallengeForm, "parts": CountForm,
    "breakage": BreakageForm,
}  # fmt: skip


class AmendStrainer(SignedLayout, StrainerForm):
    """As it should have been recorded, signed."""


class AmendMagnet(SignedLayout, MagnetForm):
    """As it should have been recorded, signed."""


class AmendChallenge(SignedLayout, ChallengeForm):
    """As it should have been recorded, signed."""


class AmendCount(SignedLayout, CountForm):
    """As it should have been recorded, signed."""


class AmendBreakage(SignedLayout, BreakageForm):
    """As it should have been recorded, signed."""


def form_of(row: Look) -> Any:
    """The form that amends a row, made with `request=`."""
    if isinstance(row, StrainerLook):
        return AmendMagnet if row.device == MAGNET else AmendStrainer
    return {DetectorChallenge: AmendChallenge, PartsCount: AmendCount, Breakage: AmendBreakage}[type(row)]
