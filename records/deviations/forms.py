"""What a person may type about deviations, corrections and held product. Forms only parse; the acts decide."""

from __future__ import annotations

import uuid
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Fieldset, Layout
from django import forms
from django.utils.translation import gettext_lazy as _

from plant.forms.layout import ActionBar
from records.deviations import holds
from records.deviations.models import Hold
from records.deviations.words import in_words
from records.people.forms import SignatureFields
from records.people.refused import Refused, Words

LONGEST_TEXT = 4000
LARGEST_LETTER = 10 * 1024 * 1024
# What a letter may be, by the first bytes of the file: its name and type come from outside and prove nothing.
LETTER_KINDS = ((b"%PDF-", "application/pdf"), (b"\xff\xd8\xff", "image/jpeg"), (b"\x89PNG\r\n\x1a\n", "image/png"))
STALE = _("This page is out of date. Open it again; what you typed stands below.")


def lines(label: Words, help_text: Words = "", *, required: bool = True, rows: int = 3) -> forms.CharField:
    """A few lines of free text."""
    return forms.CharField(
        label=label,
        help_text=help_text,
        required=required,
        max_length=LONGEST_TEXT,
        widget=forms.Textarea(attrs={"rows": rows}),
        error_messages={
            "required": _("Write a few words here."),
            "max_length": _("This is longer than %(limit_value)d characters; shorten it."),
        },
    )


def one_of(label: Words, choices: list[tuple[str, Words]], help_text: Words = "") -> forms.ChoiceField:
    """One of a short list, none chosen beforehand."""
    return forms.ChoiceField(
        label=label,
        choices=choices,
        help_text=help_text,
        widget=forms.RadioSelect,
        error_messages={
            "required": _("Choose one."),
            "invalid_choice": _("That is not on the list. Choose one of the list."),
        },
    )


class _Refusing(forms.Form):
    def refuse(self, refused: Refused) -> None:
        """Show what an act refused, beside its field when the form has it."""
        self.add_error(refused.field if refused.field in self.fields else None, str(refused.sentence))


class PartForm(_Refusing):
    """One part of a corrective action. Each part of a page has a form of its own, told apart by its prefix."""

    text = lines("")
    form_id = forms.UUIDField(
        widget=forms.HiddenInput, error_messages={"required": STALE, "invalid": STALE}
    )

    def __init__(self, *args: Any, part: str, asks: Words, again: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.prefix = part
        self.part = part
        self.fields["text"].label = asks
        self.main = _("Write it anew") if again else _("Write it down")
        self.initial.setdefault("form_id", uuid.uuid4())

    @property
    def helper(self) -> FormHelper:
        """Laid out by crispy-forms; the page writes the form's tag."""
        helper = FormHelper()
        helper.form_tag = False
        helper.form_show_labels = False  # the part's own heading says it; screen readers hear the label all the same
        helper.layout = Layout("text", "form_id")
        return helper


class Signed(SignatureFields):
    """A form whose own fields stand above the two components of the signature."""

    @property
    def helper(self) -> FormHelper:
        """Laid out by crispy-forms."""
        helper = FormHelper()
        own = [one for one in self.fields if one not in ("signer", "signer_secret")]
        signature = Fieldset(_("Your signature"), "signer", "signer_secret")
        bar = ActionBar(self.main, self.out if self.out_url else "", out_url=self.out_url)
        helper.layout = Layout(*own, signature, bar)
        return helper


class CloseForm(Signed):
    """Closing a complete deviation."""

    main = _("Close, signed")

    text = lines(_("What you looked at, and what you found"))


class RaiseForm(Signed):
    """Raising a correction to a deviation."""

    main = _("Raise it, signed")

    why = lines(_("Why this is more than a correction"))


class HoldForm(Signed):
    """Holding a lot by hand. `choices`: the lots that are in the plant now."""

    main = _("Hold it, signed")

    lot = forms.ChoiceField(label=_("What is held"), widget=forms.RadioSelect)
    reach = one_of(
        _("From when"),
        [
            ("lot", _("all of this lot, with everything that has flowed out of it")),
            ("now", _("what is there now, and where it flows from here on")),
        ],
    )
    reason = lines(_("Why"))

    def __init__(self, *args: Any, choices: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["lot"].choices = choices  # type: ignore[attr-defined]
        self.fields["lot"].error_messages |= {
            "required": _("Choose what is held."),
            "invalid_choice": _("That lot is not in the plant now. Choose one of the list."),
        }


class DispositionForm(Signed):
    """What shall become of held product: only what is possible for this hold, none chosen beforehand."""

    main = _("Propose it, signed")

    letter = forms.FileField(
        label=_("The regulator's letter"),
        required=False,
        help_text=_("Wanted for 'as the regulator wrote': a PDF, JPEG or PNG of at most 10 MB."),
        widget=forms.ClearableFileInput(attrs={"accept": ".pdf,.jpg,.jpeg,.png"}),
        error_messages={"empty": _("This file is empty."), "invalid": _("No file came with this form.")},
    )
    reason = lines(_("Why, and on which results or facts"))
    field_order = ["what", "reason", "letter"]

    def __init__(self, *args: Any, hold: Hold, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        allowed: list[tuple[str, Words]] = [(one, in_words(one)) for one in holds.allowed_dispositions(hold)]
        self.fields["what"] = one_of(_("What becomes of it"), allowed)
        if holds.REGULATOR not in dict(allowed):
            del self.fields["letter"]
        self.order_fields(self.field_order)
        self.letter_bytes, self.letter_mime = b"", ""

    @property
    def helper(self) -> FormHelper:
        """A form that carries a file."""
        helper = super().helper
        helper.attrs = {"enctype": "multipart/form-data"}
        return helper

    def clean_letter(self) -> Any:
        """The letter's bytes and true type; refused when it is neither PDF, JPEG nor PNG."""
        file = self.cleaned_data.get("letter")
        if not file:
            return None
        if file.size > LARGEST_LETTER:
            raise forms.ValidationError(_("This file is larger than 10 MB."))
        self.letter_bytes = file.read()
        found = [mime for start, mime in LETTER_KINDS if self.letter_bytes.startswith(start)]
        if not found:
            raise forms.ValidationError(_("This is neither a PDF nor a JPEG or PNG picture."))
        self.letter_mime = found[0]
        return file


class SecondForm(Signed):
    """The second signature under a disposition; `disposition` is the one that was read."""

    main = _("Sign: the hold is lifted so")

    disposition = forms.IntegerField(
        widget=forms.HiddenInput, error_messages={"required": STALE, "invalid": STALE}
    )
    read = forms.BooleanField(
        label=_("I have read the reason and what it stands on"),
        error_messages={"required": _("Read it first, then tick here.")},
    )
