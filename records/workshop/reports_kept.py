"""Reports that come with a test or calibration: a PDF or a picture, by what its bytes say."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from records.deviations.forms import LARGEST_LETTER, LETTER_KINDS
from records.ledger import files
from records.workshop.data import Report


def report_field() -> forms.FileField:
    """A report to attach, or none."""
    return forms.FileField(
        label=_("Its report"),
        required=False,
        help_text=_("A PDF, JPEG or PNG of at most 10 MB."),
        widget=forms.FileInput(attrs={"accept": ".pdf,.jpg,.jpeg,.png"}),
        error_messages={"empty": _("This file is empty."), "invalid": _("No file came with this form.")},
    )


def read(sent: Any) -> Report | None:
    """Keep the bytes of an upload; ValidationError says what is wrong with it."""
    if not sent:
        return None
    if sent.size > LARGEST_LETTER:
        raise forms.ValidationError(_("This file is larger than 10 MB."))
    data = sent.read()
    mime = next((mime for start, mime in LETTER_KINDS if data.startswith(start)), "")
    if not mime:
        raise forms.ValidationError(_("This is neither a PDF nor a JPEG or PNG picture."))
    return Report(sha256=files.put(data), name=sent.name or "report", mime=mime)
