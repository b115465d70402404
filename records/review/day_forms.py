"""What a person may type when a shift is handed over or a day is closed and signed."""

from __future__ import annotations

import uuid
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from plant import clock
from plant.people.models import Person
from records.deviations.forms import STALE, Signed, lines
from records.people.forms import Form

NOT_NOW = _("I do not sign this now")
IN_CHARGE_ROLES = {"operator", "supervisor", "qualified individual"}


class InChargeForm(Form):
    """Who is the operator in charge of a shift."""

    main = _("Name them")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        now = clock.now()
        people = Person.objects.filter(is_active=True).prefetch_related("held_roles")
        names = [(str(one.id), one.name) for one in people if IN_CHARGE_ROLES & one.roles_at(now)]
        self.fields["person"] = forms.ChoiceField(
            label=_("Operator in charge"),
            choices=[("", _("Choose a name")), *names],
            error_messages={
                "required": _("Choose who it is."),
                "invalid_choice": _("That is not on the list. Choose one of the list."),
            },
        )


class HandOverForm(Signed):
    """One side of a hand-over."""

    main = _("Sign the hand-over")
    out = NOT_NOW

    notes = lines(
        _("Notes"), _("What is running, held, late, broken, promised. Change what is written here as you like."),
        required=False, rows=10,
    )  # fmt: skip
    form_id = forms.UUIDField(widget=forms.HiddenInput, error_messages={"required": STALE, "invalid": STALE})

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial.setdefault("form_id", uuid.uuid4())


class CloseDayForm(Signed):
    """Closing a day; again only with the reason."""

    main = _("Close the day, signed")

    reason = lines(_("Why the day is closed again"), required=False)

    def __init__(self, *args: Any, again: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if again:
            self.fields["reason"].required = True
        else:
            del self.fields["reason"]


class SignSheetForm(Signed):
    """The signature under a day sheet; `sheet` is the state that was read."""

    main = _("Sign the sheet")
    out = NOT_NOW

    sheet = forms.IntegerField(widget=forms.HiddenInput, error_messages={"required": STALE, "invalid": STALE})
    read = forms.BooleanField(
        label=_("I have read the sheet"), error_messages={"required": _("Read the sheet first, then tick here.")}
    )
