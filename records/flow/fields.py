"""Form fields of the flow pages: a time on the plant's clocks, and a quantity as typed."""

from __future__ import annotations

import re
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from plant.process.plant_calendar import PlantCalendar
from plant.process.units import SENTENCES, NumberError, parse_number

# A tablet's clock may run a little ahead of the server's; more than this has not happened yet.
AHEAD = timedelta(minutes=2)
LONGEST_NOTE = 4000
# Before this nobody kept a book here; a slipped digit in the year is caught by it.
EARLIEST_YEAR = 2000

# What is wrong with any text, in the user's words instead of the framework's.
TEXT_ERRORS = {
    "max_length": gettext_lazy("This is longer than %(limit_value)d characters; shorten it."),
    "null_characters_not_allowed": gettext_lazy(
        "A character in this cannot be kept. Delete it all and type it again."
    ),
}

_MOMENT = re.compile(r"(?:(\d{4})-(\d{2})-(\d{2})[T ])?(\d{1,2}):(\d{2})(?::\d{2}(?:\.\d+)?)?", re.ASCII)


class PlantTime(forms.CharField):
    """A date and time on the plant's clocks, or a time alone (its last occurrence); gives an aware UTC moment."""

    widget = forms.TextInput

    def __init__(self, *, calendar: PlantCalendar, now: datetime, ahead_refused: bool = True, **options: Any) -> None:
        options.setdefault("max_length", 40)
        options["error_messages"] = {**TEXT_ERRORS, **(options.get("error_messages") or {})}
        super().__init__(**options)
        self.calendar, self.now, self.ahead_refused = calendar, now, ahead_refused
        self.widget.input_type = "datetime-local"
        self.widget.attrs.setdefault("autocomplete", "off")

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, datetime):
            return self.calendar.local(value).strftime("%Y-%m-%dT%H:%M")
        return value

    def clean(self, value: Any) -> datetime | None:
        text = super().clean(value)
        return self._moment(text) if text else None

    def _moment(self, text: str) -> datetime:
        found = _MOMENT.fullmatch(text)
        try:
            at = self._read(found) if found else None
        except ValueError:
            at = None
        if at is None:
            raise forms.ValidationError(
                _("Write date and time as 2026-03-03 17:05, or the time alone as 17:05."), "no time"
            )
        if self.ahead_refused and at > self.now + AHEAD:
            clock = self.calendar.local(self.now).strftime("%H:%M")
            raise forms.ValidationError(
                _("That time is still to come: it is %(clock)s now.") % {"clock": clock}, "ahead"
            )
        return at

    def _read(self, found: re.Match[str]) -> datetime | None:
        at = time(int(found[4]), int(found[5]))
        if found[1] is None:
            today = self.calendar.local(self.now).date()
            moment = self.calendar.utc(today, at)
            return moment if moment <= self.now + AHEAD else self.calendar.utc(today - timedelta(days=1), at)
        day = date(int(found[1]), int(found[2]), int(found[3]))
        if not EARLIEST_YEAR <= day.year <= EARLIEST_YEAR + 200:
            return None
        return self.calendar.utc(day, at)


class TypedNumber(forms.CharField):
    """A number as typed: the text is kept; `number` reads it. Refuses what is no number, and below zero."""

    def __init__(self, *, decimal_mark: str = ".", may_be_negative: bool = False, **options: Any) -> None:
        options.setdefault("max_length", 40)
        options["error_messages"] = {**TEXT_ERRORS, **(options.get("error_messages") or {})}
        super().__init__(**options)
        self.decimal_mark, self.may_be_negative = decimal_mark, may_be_negative

    def clean(self, value: Any) -> str:
        text: str = super().clean(value)
        if text:
            number = read_number(text, self.decimal_mark)
            if number < 0 and not self.may_be_negative:
                raise forms.ValidationError(_("This cannot be below zero."), "negative")
        return text


def read_number(text: str, decimal_mark: str = ".") -> Decimal:
    """The number typed; ValidationError with its sentence in the reader's language."""
    try:
        return parse_number(text, decimal_mark)
    except NumberError as error:
        sentence = _(SENTENCES[error.fault])
        suggested = sentence.format(suggestion=error.suggestion, most=11)
        raise forms.ValidationError(suggested, error.fault.name) from error


def note(label: Any, *, required: bool = False) -> forms.CharField:
    """A few lines of free text."""
    return forms.CharField(
        label=label,
        required=required,
        max_length=LONGEST_NOTE,
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={
            **TEXT_ERRORS,
            "required": gettext_lazy("Write a few words here."),
        },
    )


def words(label: Any, longest: int, *, required: bool = False, help_text: Any = "") -> forms.CharField:
    """A line of free text."""
    return forms.CharField(
        label=label,
        required=required,
        max_length=longest,
        help_text=help_text,
        error_messages={
            **TEXT_ERRORS,
            "required": gettext_lazy("Write a few words here."),
        },
    )


def form_id() -> forms.UUIDField:
    """The form's own id, made when the page is shown."""
    stale = gettext_lazy("This page is out of date. Open it again; what you typed stands below.")
    return forms.UUIDField(widget=forms.HiddenInput, error_messages={"required": stale, "invalid": stale})


def choice(
    label: Any, choices: list[tuple[str, Any]], *, required: bool = True, help_text: Any = "", radio: bool = False
) -> forms.ChoiceField:
    """One of a list, with a sentence for what is not on it."""
    return forms.ChoiceField(
        label=label,
        choices=choices,
        required=required,
        help_text=help_text,
        widget=forms.RadioSelect if radio else forms.Select,
        error_messages={
            "required": gettext_lazy("Choose one."),
            "invalid_choice": gettext_lazy("That is not on the list. Choose one of the list."),
        },
    )

