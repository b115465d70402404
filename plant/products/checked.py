"""What is checked of a product beyond its columns' lengths."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from plant.process.gs1 import Gs1Error, gtin_14


def check_gtin(text: str) -> None:
    """A GTIN has 8, 12, 13 or 14 digits, the last of them its check digit. Raises ValidationError."""
    try:
        gtin_14(text)
    except Gs1Error as error:
        if error.fault == "check digit":
            raise ValidationError(_("The last digit does not fit the others: look at the number again.")) from error
        raise ValidationError(_("A GTIN has 8, 12, 13 or 14 digits.")) from error
