"""What a person may say of a recorder's file: where it comes from, how its times are written, what its columns are."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Field, Layout, Row
from django import forms
from django.template import Context
from django.template.loader import render_to_string
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from plant.forms.layout import ActionBar
from plant.process.errors import CalculationError
from plant.process.said import again
from plant.process.trace_file import Column, Mapping, Shape
from records.flow.fields import form_id
from records.traces.importing import LONGEST_SOURCE, SIGNAL, Known

UNITS = ("°F", "°C", "psi", "kPa", "bar", "gal/min", "L/h", "L/min", "mS/cm", SIGNAL)
LEFT_OUT = ""
CLOCKS = (
    ("", gettext_lazy("the plant's own, with its clock changes")),
    ("UTC", gettext_lazy("UTC")),
    ("fixed", gettext_lazy("always the same distance from UTC, written below")),
)
ORDERS = (
    ("", gettext_lazy("as found in the file")),
    ("dmy", gettext_lazy("day, month, year")),
    ("mdy", gettext_lazy("month, day, year")),
    ("ymd", gettext_lazy("year, month, day")),
)
MARKS = (("", gettext_lazy("as found in the file")), (".", "38.4"), (",", "38,4"))


class FileForm(forms.Form):
    """A file to send."""

    file = forms.FileField(
        label=gettext_lazy("File of a recorder or logger"),
        help_text=gettext_lazy("CSV as the recorder or logger writes it. You look at it before anything is kept."),
        error_messages={
            "required": gettext_lazy("Choose the file."),
            "empty": gettext_lazy("The file is empty."),
            "max_length": gettext_lazy("The file's name is too long."),
        },
        widget=forms.FileInput(attrs={"accept": ".csv,.txt,.tsv,.log,text/csv,text/plain", "data-drop": ""}),
    )

    @property
    def helper(self) -> FormHelper:
        """Laid out by crispy-forms."""
        found = FormHelper()
        found.form_tag = False
        found.layout = Layout("file", ActionBar(_("Look at it")))
        return found


@dataclass(frozen=True, slots=True)
class ColumnRow:
    """A column of the file with its fields."""

    column: Column
    kind: str
    instrument: Any
    unit: Any
    fails: Any


class _Columns:
    """The table of columns as a crispy layout object."""

    def render(self, form: Any, _context: Context, template_pack: str = "daybook", **_options: object) -> SafeString:
        """The table; its fields are marked as rendered."""
        rows = [form.row(one) for one in form.shape.columns]
        form.rendered_fields.update(name for name in form.fields if name.rpartition("_")[2].isdigit())
        return render_to_string("records/traces/_columns.html", {"rows": rows, "form": form})


class MapForm(forms.Form):
    """How a file is to be read. Its shape is guessed; what a person says is asked here, and remembered by source."""

    def __init__(
        self,
        *args: Any,
        shape: Shape,
        known: list[Known],
        mapping: Mapping | None = None,
        source: str = "",
        sources: list[str],
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        self.shape, self.known, self.sources = shape, {one.code: one for one in known}, sources
        self.fields["form_id"] = form_id()
        self.initial.setdefault("form_id", uuid.uuid4())
        self.fields["source"] = forms.CharField(
            label=_("Which recorder or logger is it from?"),
            max_length=LONGEST_SOURCE,
            help_text=_("Its files are read this way from now on."),
            initial=source,
            widget=forms.TextInput(attrs={"list": "trace-sources", "autocomplete": "off"}),
            error_messages={"required": _("Say which recorder or logger it comes from.")},
        )
        self.fields["order"] = _choice(_("How are its dates written?"), ORDERS, mapping.time.order if mapping else "")
        self.fields["decimal"] = _choice(_("How are its decimals written?"), MARKS, mapping.decimal if mapping else "")
        clock = mapping.time.clock if mapping else ""
        fixed = clock not in ("", "UTC")
        self.fields["clock"] = _choice(_("Which clock does it keep?"), CLOCKS, "fixed" if fixed else clock)
        self.fields["offset"] = forms.CharField(
            label=_("Distance from UTC"),
            required=False,
            max_length=60,
            initial=clock if fixed else "",
            help_text=_("As -06:00, or the name of a zone as America/Chicago."),
        )
        self._columns(mapping)

    def _columns(self, mapping: Mapping | None) -> None:
        chosen = {one.column: one for one in mapping.channels} if mapping else {}
        listed = [(LEFT_OUT, _("leave it out")), *((code, one.label) for code, one in self.known.items())]
        for one in self.shape.columns:
            if one.number in self.shape.time.columns:
                continue
            said = chosen.get(one.number)
            guessed = said.instrument if said else self._named(one)
            place = {"n": one.number + 1}
            instrument = _choice(_("Column %(n)s holds") % place, listed, guessed)
            unit = said.unit if said else self._unit_of(one, guessed)
            units = list(dict.fromkeys((*([unit] if unit else []), *UNITS)))
            choices = [("", _("choose")), *((name, _("1 or 0") if name == SIGNAL else name) for name in units)]
            fails = ", ".join(said.fail_numbers if said else one.suspects)
            self.fields[f"instrument_{one.number}"] = instrument
            self.fields[f"unit_{one.number}"] = _choice(_("Unit of column %(n)s") % place, choices, unit)
            self.fields[f"fails_{one.number}"] = forms.CharField(
                label=_("Numbers in column %(n)s that mean a failed sensor") % place,
                required=False,
                max_length=200,
                initial=fails,
            )

    def _named(self, column: Column) -> str:
        """The instrument whose number or name the header has; none where that is not plain."""
        text = column.name.casefold()
        by_code = [code for code in self.known if code.casefold() in text]
        by_name = [code for code, one in self.known.items() if one.name and one.name.casefold() in text]
        found = by_code or by_name
        return found[0] if len(found) == 1 else LEFT_OUT

    def _unit_of(self, column: Column, instrument: str) -> str:
        known = self.known.get(instrument)
        return column.unit or (known.unit if known is not None and known.unit == SIGNAL else "")

    @property
    def helper(self) -> FormHelper:
        """Laid out by crispy-forms."""
        found = FormHelper()
        found.form_tag = False
        found.layout = Layout(
            Field("form_id"),
            Field("source"),
            _Columns(),
            Row(Field("order"), Field("decimal")),
            Row(Field("clock"), Field("offset")),
        )
        return found

    def row(self, column: Column) -> ColumnRow:
        """A column with its fields; those of a column of times are missing."""
        name = f"instrument_{column.number}"
        if name not in self.fields:
            return ColumnRow(column, "time", None, None, None)
        fields = (self[f"{part}_{column.number}"] for part in ("instrument", "unit", "fails"))
        return ColumnRow(column, column.kind, *fields)

    def clean(self) -> dict[str, Any]:
        """The mapping, as `cleaned_data["mapping"]`; what is wrong stands beside its field."""
        data = super().clean() or {}
        chosen = {
            one.number: data[f"instrument_{one.number}"]
            for one in self.shape.columns
            if data.get(f"instrument_{one.number}")
        }
        if not chosen:
            raise forms.ValidationError(_("Say of at least one column which instrument it holds."))
        units = {at: data.get(f"unit_{at}", "") for at in chosen}
        for at, unit in units.items():
            said = self.shape.columns[at].unit
            if not unit:
                self.add_error(f"unit_{at}", _("Choose the unit that the file has."))
            elif said and said != unit:
                self.add_error(f"unit_{at}", _("The file's own header says %(unit)s.") % {"unit": said})
        fails = {at: _numbers(data.get(f"fails_{at}", "")) for at in chosen}
        clock = data.get("clock", "")
        if clock == "fixed" and not data.get("offset"):
            self.add_error("offset", _("Write the distance from UTC, as -06:00."))
        if self.errors:
            return data
        try:
            data["mapping"] = self.shape.mapping(
                chosen,
                units=units,
                fail_numbers=fails,
                order=data["order"],
                decimal=data["decimal"],
                clock=data["offset"].strip() if clock == "fixed" else clock,
            )
        except CalculationError as error:
            said = again(error.sentence, _)
            raise forms.ValidationError(said[:1].upper() + said[1:] + ".") from error
        return data


def _numbers(text: str) -> tuple[str, ...]:
    return tuple(one for one in text.replace(";", ",").replace(" ", ",").split(",") if one)


def _choice(label: str, choices: Any, initial: str) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=choices, required=False, initial=initial)


__all__ = ["ColumnRow", "FileForm", "MapForm"]
