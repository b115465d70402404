"""What a person may type of batches. Forms only parse; the acts decide."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import HTML, Field, Fieldset, Row
from django import forms
from django.utils.html import format_html
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from plant.forms.layout import BigNumber, Figure
from plant.hazard_plan.content import Plan
from records.batches.data import (
    AdditionData,
    BlendTestData,
    FlavorData,
    LineData,
    SeparationData,
    SheetData,
    StreamData,
    VitaminData,
)
from records.batches.second import scan_of
from records.batches.state import Batch, latest
from records.batches.words import WHY_UNHEATED
from records.flow import choices
from records.flow.data import UNITS
from records.flow.fields import choice, note, words
from records.flow.forms import helper
from records.ingredients.forms import KeptForm
from records.ingredients.keeping import first_of
from records.ingredients.queries import lot_choices

LINES = 10
SHOWN = 5  # the others are folded away until one of them is used
ON_MEMORY = gettext_lazy(
    "The list follows item 16p of the Grade \"A\" PMO, from memory: your plan and your regulator decide, not this list."
)
PARTS = ("name", "source", "fat", "snf", "sugar", "other", "fixed", "test", "allergen")
WANTED = ("fat", "snf", "sugar", "solids")


def scanned(help_text: str) -> forms.CharField:
    """The lot as a scanner typed it."""
    return words(_("Lot as scanned"), 80, help_text=help_text)


class SheetForm(KeptForm):
    """A batch sheet: what is wanted, and the lines to make it from."""

    at_label = gettext_lazy("Written at")
    fields_of_row = ("batch", "place", "product", "tolerance")

    def known(self, row: Any) -> dict[str, Any]:
        found = {**super().known(row), "total": row.total_typed, "tolerance": f"{row.tolerance.normalize():f}"}
        found |= {name: row.wanted.get(name, "") for name in WANTED}
        for at, line in enumerate(row.lines):
            found |= {f"{part}_{at}": line.get(part, "") for part in PARTS}
        return found

    def build(self, plan: Plan) -> None:
        self.fields["batch"] = words(_("Number of the batch"), 60, required=True)
        self.fields["place"] = choice(_("Vat"), [("", "—"), *choices.holders(plan)])
        self.fields["product"] = choice(_("Product"), [("", "—"), *choices.products(plan)])
        labels = (_("Fat, %"), _("Solids-not-fat of milk, %"), _("Sugar, %"), _("Total solids, %"))
        for name, label in zip(WANTED, labels, strict=True):
            self.fields[name] = self.number(label)
        self.fields["total"] = self.number(
            _("Whole batch, kg"), help_text=_("Empty where a given mass of a line sets it.")
        )
        self.fields["tolerance"] = self.number(_("A weight may be off its target by, %"), required=True)
        self.initial.setdefault("tolerance", "1")
        sources = [("", _("an ingredient")), *choices.holders(plan)]
        for at in range(LINES):
            self.fields[f"name_{at}"] = words(_("What"), 120)
            self.fields[f"source_{at}"] = choice(_("From"), sources, required=False)
            for part, label in (
                ("fat", _("Fat, %")), ("snf", _("Solids-not-fat of milk, %")), ("sugar", _("Sugar, %")),
                ("other", _("Other solids, %")), ("fixed", _("Given mass, kg")),
            ):  # fmt: skip
                self.fields[f"{part}_{at}"] = self.number(label)
            self.fields[f"test_{at}"] = words(_("Tested: sample, when"), 120)
            self.fields[f"allergen_{at}"] = words(_("Allergen"), 120)

    def layout(self) -> FormHelper:
        lines = [
            Fieldset(
                _("Line %(number)d") % {"number": at + 1},
                Row(Field(f"name_{at}"), Field(f"source_{at}")),
                Row(*(Field(f"{part}_{at}") for part in ("fat", "snf", "sugar"))),
                Row(Field(f"other_{at}"), Field(f"fixed_{at}"), Field(f"allergen_{at}")),
                Field(f"test_{at}"),
            )
            for at in range(LINES)
        ]
        wanted = Fieldset(_("Wanted"), Row(*(Field(one) for one in WANTED)), Row(Field("total"), Field("tolerance")))
        used = any(str(self[f"{part}_{at}"].value() or "") for at in range(SHOWN, LINES) for part in PARTS)
        opens = "<details{}><summary class='act-small'>{}</summary>"
        opening = HTML(format_html(opens, " open" if used else "", _("More lines")))
        folded = [opening, *lines[SHOWN:], HTML("</details>")]
        return helper(
            "form_id", Row(Field("batch"), Field("place"), Field("product")), wanted, *lines[:SHOWN], *folded,
            *self.ends(says=_("Compute it and keep the sheet")),
        )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        given = self.cleaned_data
        for at in range(LINES):
            if not given.get(f"name_{at}") and any(given.get(f"{part}_{at}") for part in PARTS[1:]):
                self.add_error(f"name_{at}", _("Say what this line is, or empty it."))
        return given

    def said(self) -> SheetData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        lines = tuple(
            LineData(**{part: given[f"{part}_{at}"] for part in PARTS}) for at in range(LINES) if given[f"name_{at}"]
        )
        return SheetData(
            **self.common(), lines=lines, total=given["total"], tolerance=given["tolerance"], batch=given["batch"],
            place=given["place"], product=given["product"], **{name: given[name] for name in WANTED},
        )  # fmt: skip


class AdditionForm(KeptForm):
    """A line of a sheet weighed in."""

    at_label = gettext_lazy("Weighed in at")
    fields_of_row = ("received", "scale", "scanned")

    def __init__(self, *args: Any, batch: Batch, line: int, **options: Any) -> None:
        self.batch, self.line = batch, line
        old = options.get("row")
        weighed = batch.weighed.get(old.number) if old is not None else None  # none of one that did not happen
        self.asked = batch.sheet.lines[line] if weighed is None else weighed.line
        super().__init__(*args, **options)

    def known(self, row: Any) -> dict[str, Any]:
        return {**super().known(row), "gross": row.gross_typed, "tare": row.tare_typed}

    def build(self, plan: Plan) -> None:
        if not self.asked["source"]:
            self.fields["received"] = choice(_("Lot"), [("", "—"), *lot_choices(self.now, self.in_force)])
            self.fields["scanned"] = scanned(_("Empty where nobody scanned it; an allergen then asks a second person."))
        self.fields["gross"] = self.number(_("Gross, kg"), required=True)
        self.fields["tare"] = self.number(_("Tare, kg"))
        self.fields["scale"] = words(_("Scale or meter"), 40, required=True)

    def layout(self) -> FormHelper:
        lot = [Row(Field("received"), Field("scanned"))] if "received" in self.fields else []
        return helper(
            "form_id", *lot, BigNumber("gross", "kg"), Row(Figure("tare", "kg"), Field("scale")),
            *self.ends(begins=True),
        )  # fmt: skip

    def said(self, *, begins_now: bool = False) -> AdditionData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        received = given.get("received")
        return AdditionData(
            **self.common(), sheet=self.batch.number, line=self.line, gross=given["gross"], tare=given["tare"],
            scale=given["scale"], received=int(received) if received else None, scanned=given.get("scanned", ""),
            begins_now=begins_now,
        )  # fmt: skip


class BlendTestForm(KeptForm):
    """Fat and total solids of what is in a vat."""

    at_label = gettext_lazy("Sample taken at")
    fields_of_row = ("place", "sheet", "sample", "method")

    def known(self, row: Any) -> dict[str, Any]:
        return {**super().known(row), "fat": row.fat_typed, "solids": row.solids_typed}

    def build(self, plan: Plan) -> None:
        self.fields["place"] = choice(_("Vat"), [("", "—"), *choices.holders(plan)])
        sheets = [(str(first_of(one).number), f"{one.batch}, {one.place_name}") for one in latest()]
        self.fields["sheet"] = choice(_("Batch"), [("", _("no batch sheet")), *sheets], required=False)
        self.fields["sample"] = words(_("Sample"), 60, required=True)
        self.fields["fat"] = self.number(_("Fat, %"), required=True)
        self.fields["solids"] = self.number(_("Total solids, %"), required=True)
        self.fields["method"] = words(_("How it was tested"), 120, required=True)

    def layout(self) -> FormHelper:
        return helper(
            "form_id", Row(Field("place"), Field("sheet")), Row(Figure("fat", "%"), Figure("solids", "%")),
            Row(Field("sample"), Field("method")), *self.ends(),
        )  # fmt: skip

    def said(self) -> BlendTestData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        return BlendTestData(
            **self.common(), place=given["place"], sheet=int(given["sheet"]) if given["sheet"] else None,
            sample=given["sample"], fat=given["fat"], solids=given["solids"], method=given["method"],
        )  # fmt: skip


class SeparationForm(KeptForm):
    """Milk separated into cream and skim."""

    at_label = gettext_lazy("Ended at")
    fields_of_row = ("place",)

    def known(self, row: Any) -> dict[str, Any]:
        streams = {f"{name}_{key}": value for name, one in row.streams.items() for key, value in one.items()}
        return {**super().known(row), **streams}

    def build(self, plan: Plan) -> None:
        self.fields["place"] = choice(_("Separator"), [("", "—"), *choices.lines(plan)])
        self.names = {"milk": _("Milk in"), "cream": _("Cream out"), "skim": _("Skim out")}
        for name in self.names:
            self.fields[f"{name}_mass"] = self.number(_("Mass, kg"), required=True)
            self.fields[f"{name}_mass_u"] = self.number(_("Give or take, kg"))
            self.fields[f"{name}_fat"] = self.number(_("Fat, %"), required=True)
            self.fields[f"{name}_fat_u"] = self.number(_("Give or take, %"))

    def layout(self) -> FormHelper:
        parts = [
            Fieldset(label, Row(*(Field(f"{name}_{one}") for one in ("mass", "mass_u", "fat", "fat_u"))))
            for name, label in self.names.items()
        ]
        return helper("form_id", "place", *parts, *self.ends())

    def said(self) -> SeparationData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        streams = {
            name: StreamData(**{one: given[f"{name}_{one}"] for one in ("mass", "mass_u", "fat", "fat_u")})
            for name in self.names
        }
        milk, cream, skim = (streams[name] for name in ("milk", "cream", "skim"))
        return SeparationData(**self.common(), place=given["place"], milk=milk, cream=cream, skim=skim)


class VitaminForm(KeptForm):
    """A vitamin concentrate used for milk."""

    at_label = gettext_lazy("Used at")
    fields_of_row = ("vitamin", "place", "product", "received", "milk_unit")

    def known(self, row: Any) -> dict[str, Any]:
        typed = {name: getattr(row, f"{name}_typed") for name in ("strength", "amount", "milk")}
        return {**super().known(row), **typed, "scanned": scan_of(row)}

    def build(self, plan: Plan) -> None:
        self.fields["vitamin"] = choice(_("Vitamin"), [("A", "A"), ("D", "D")])
        lots = [("", "—"), *lot_choices(self.now, self.in_force)]
        self.fields["received"] = choice(_("Lot of the concentrate"), lots)
        self.fields["scanned"] = scanned(_("Empty where nobody scanned it; a second person then has to look."))
        self.fields["strength"] = self.number(_("Strength, IU/mL"), required=True)
        self.fields["amount"] = self.number(_("Used, mL"), required=True)
        self.fields["milk"] = self.number(_("Milk that it went into"), required=True)
        self.fields["milk_unit"] = choice(_("Unit"), [("gal", "gal"), ("L", "L")])
        self.fields["place"] = choice(_("Into"), [("", "—"), *choices.holders(plan), *choices.lines(plan)])
        self.fields["product"] = choice(_("Product"), [("", "—"), *choices.products(plan)])

    def layout(self) -> FormHelper:
        return helper(
            "form_id", Row(Field("vitamin"), Field("received"), Field("scanned")),
            Row(Figure("strength", "IU/mL"), Figure("amount", "mL")),
            BigNumber("milk", unit_field="milk_unit"), Row(Field("place"), Field("product")), *self.ends(begins=True),
        )  # fmt: skip

    def said(self, *, begins_now: bool = False) -> VitaminData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        names = ("vitamin", "place", "product", "strength", "amount", "milk", "milk_unit", "scanned")
        return VitaminData(
            **self.common(), **{one: given[one] for one in names}, received=int(given["received"]),
            begins_now=begins_now,
        )  # fmt: skip


class FlavorForm(KeptForm):
    """An ingredient into product that is pasteurized already."""

    at_label = gettext_lazy("Added at")
    fields_of_row = ("place", "product", "received", "unit", "why", "why_words")

    def known(self, row: Any) -> dict[str, Any]:
        return {**super().known(row), "amount": row.amount_typed, "scanned": scan_of(row)}

    def build(self, plan: Plan) -> None:
        holding = [one for one in choices.in_flow_order(plan) if one.holds_product]
        finished = [(one.code, one.name) for one in holding if one.stage != "raw"]
        self.fields["place"] = choice(_("Into"), [("", "—"), *finished])
        self.fields["product"] = choice(_("Product"), [("", "—"), *choices.products(plan)])
        self.fields["received"] = choice(_("Lot"), [("", "—"), *lot_choices(self.now, self.in_force)])
        self.fields["scanned"] = scanned(_("Empty where nobody scanned it; an allergen then asks a second person."))
        self.fields["amount"] = self.number(_("Amount"), required=True)
        self.fields["unit"] = choice(_("Unit"), [(one, one) for one in UNITS])
        reasons = [("", _("no reason")), *WHY_UNHEATED.items()]
        self.fields["why"] = choice(_("Why it may go in unheated"), reasons, required=False, help_text=ON_MEMORY)
        self.fields["why_words"] = note(_("What shows it: the plan's text, the supplier's validation, the certificate"))

    def layout(self) -> FormHelper:
        return helper(
            "form_id", Row(Field("place"), Field("product")), Row(Field("received"), Field("scanned")),
            BigNumber("amount", unit_field="unit"),
            "why", "why_words", *self.ends(begins=True),
        )  # fmt: skip

    def said(self, *, begins_now: bool = False) -> FlavorData:
        """What was typed, as the act takes it."""
        given = self.cleaned_data
        names = ("place", "product", "amount", "unit", "why", "why_words", "scanned")
        return FlavorData(
            **self.common(), **{one: given[one] for one in names}, received=int(given["received"]),
            begins_now=begins_now,
        )  # fmt: skip
