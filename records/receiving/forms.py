"""What a person may type of a load. Forms only parse; the acts decide."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import HTML, Field, Fieldset, Row
from django import forms
from django.forms.utils import ErrorDict
from django.utils.html import escape
from django.utils.translation import gettext as _

from plant.forms.layout import ActionBar, BigNumber, Figure
from plant.hazard_plan.content import Plan
from records.checks import photos
from records.checks.forms import photo_field
from records.flow.choices import RAW, may_be_raw
from records.flow.fields import choice, note, words
from records.flow.forms import BEGINS_NOW, DoubtedForm, FlowForm, helper
from records.receiving import farms, state
from records.receiving import words as said
from records.receiving.actions import LOOKS, MOST_FARMS, RESULTS, STAGES
from records.receiving.data import ArriveData, LinkData, Pickup, SayData, ScreenData, UnloadData, UnloadedData
from records.receiving.models import MEANS, NO, NOT_SEEN, STEPS, YES
from records.run_rows.models import ENDED

FARMS = 4
ANOTHER_FARM = "another_farm"
_ANSWERS = (YES, NO, NOT_SEEN)


class LoadForm(FlowForm):
    """A form of one load."""

    use_required_attribute = False  # our own sentence beside the field, not the browser's

    def when(self, label: Any) -> None:
        self.fields["happened_at"] = self.time(label)
        self.initial.setdefault("happened_at", self.now)

    def answers(self, label: Any, *, required: bool = False) -> forms.ChoiceField:
        empty = [] if required else [("", "—")]
        given = [*empty, *((one, said.answer_words(one)) for one in _ANSWERS)]
        return choice(label, given, required=required, radio=required)

    def kept(self, *names: str) -> dict[str, Any]:
        """The answers of these fields."""
        return {name: self.cleaned_data[name] for name in names}


class ArriveForm(LoadForm):
    """A load at the bay, with its paper."""

    button: Any = ""
    farm_lines = FARMS

    @property
    def asks_for_a_farm(self) -> bool:
        """Whether 'another farm' was pressed: nothing is recorded, one more line is asked."""
        return self.is_bound and ANOTHER_FARM in self.data

    def only_grow(self) -> None:
        """Show what was typed with one more line for a farm, and no judgement of it yet."""
        self._errors = ErrorDict()

    def _lines(self) -> int:
        """How many lines of farms: those that were sent or are known, four at least."""
        known = {**self.initial, **(self.data if self.is_bound else {})}
        most = max((at for at in range(1, MOST_FARMS + 1) if f"farm_{at}" in known), default=0)
        return min(max(FARMS, most) + self.asks_for_a_farm, MOST_FARMS)

    def build(self, plan: Plan) -> None:
        self.farm_lines = self._lines()
        self.fields["means"] = choice(_("How it came"), [(one, said.means_words(one)) for one in MEANS])
        self.fields["tanker"] = words(_("Tanker, its number or name"), 60)
        self.fields["place"] = choice(_("For"), state.receivers(plan))
        raw = [one for one in plan.products if may_be_raw(one)]
        raw.sort(key=lambda one: (one.family != RAW, one.is_sold))
        self.fields["product"] = choice(_("Product"), [(one.code, one.name) for one in raw])
        self.fields["ticket"] = words(_("Scale ticket"), 60)
        self.fields["pounds"] = self.number(_("Pounds by the ticket"))
        for at in range(1, self.farm_lines + 1):
            self.fields[f"farm_{at}"] = words(_("Farm %(number)d") % {"number": at}, 120, required=at == 1)
            self.fields[f"farm_pounds_{at}"] = self.number(_("Its pounds"))
            self.fields[f"farm_temperature_{at}"] = self.number(_("Temperature at pick-up"), may_be_negative=True)
            self.fields[f"farm_milking_ended_{at}"] = self.time(_("Milking ended"), required=False)
            self.fields[f"farm_picked_up_{at}"] = self.time(_("Picked up"), required=False)
            if farms.asks_first_milking(self.in_force):
                label = _("First milking into an empty tank, begun")
                self.fields[f"farm_first_milking_{at}"] = self.time(label, required=False)
            if farms.asks_collection(self.in_force):
                given = [("", "—"), *((one, farms.collected_words(one)) for one in farms.COLLECTED)]
                self.fields[f"farm_collected_{at}"] = choice(_("Collection"), given, required=False)
        self.fields["farms"] = forms.CharField(required=False, widget=forms.HiddenInput)
        self.fields["seals"] = words(_("Numbers of the seals"), 200)
        self.fields["seals_whole"] = self.answers(_("All whole, as on the paper?"))
        self.fields["washed_at"] = self.time(_("Washed, by the tag"), required=False)
        self.fields["wash_place"] = words(_("Washed where"), 120)
        self.fields["wash_by"] = words(_("Signed by"), 120, help_text=_("Keep the tag, or its copy, 15 days at least."))
        self.fields["agitated"] = self.number(_("Agitated"))
        looks = [("", "—"), *((one, said.answer_words(one)) for one in LOOKS)]
        self.fields["looks"] = choice(_("Smell and look"), looks, required=False)
        self.fields["sample"] = words(_("Number of the sample"), 60)
        self.fields["sampler"] = words(_("Sample taken by"), 120)
        self.fields["sampler_license"] = words(_("Sampler's license"), 60)
        self.when(_("Arrived"))
        self.fields["words"] = note(_("Note"))

    def layout(self) -> FormHelper:
        lines = range(1, self.farm_lines + 1)
        unit = f"°{self.in_force.plan.plant.temperature_unit}"
        rows: list[Any] = []
        for at in lines:
            names = (f"farm_first_milking_{at}", f"farm_collected_{at}")
            asked = [Field(name) for name in names if name in self.fields]
            rows.append(Row(Field(f"farm_{at}"), Figure(f"farm_pounds_{at}", "lb")))
            rows.append(Row(Figure(f"farm_temperature_{at}", unit), *asked))
            rows.append(Row(Field(f"farm_milking_ended_{at}"), Field(f"farm_picked_up_{at}")))
        if self.farm_lines < MOST_FARMS:
            words = escape(_("Another farm"))
            button = f'<button class="act-small" type="submit" name="{ANOTHER_FARM}" value="1">{words}</button>'
            rows.append(HTML(f'<p class="no-print">{button}</p>'))
        return helper(
            # The first button is what Enter presses: it records, it does not add a farm.
            HTML('<button type="submit" hidden></button>'),
            "form_id",
            Row(Field("means"), Field("tanker")),
            Row(Field("place"), Field("product")),
            Fieldset(_("How much"), BigNumber("pounds", "lb"), "ticket", *rows, "farms"),
            Fieldset(
                _("The paper"),
                Row(Field("seals"), Field("seals_whole")),
                "washed_at",
                Row(Field("wash_place"), Field("wash_by")),
            ),
            Fieldset(
                _("The milk"),
                Row(Figure("agitated", "min"), Field("looks")),
                Row(Field("sample"), Field("sampler")),
                "sampler_license",
            ),
            Row(Field("happened_at"), Field("words")),
            *self.last(),
        )

    def last(self) -> list[Any]:
        return [ActionBar(_("It arrived: record it"))]

    def farms(self) -> list[tuple[str, str]]:
        data = self.cleaned_data
        return [(data[f"farm_{at}"], data[f"farm_pounds_{at}"]) for at in range(1, self.farm_lines + 1)]

    def pickups(self) -> list[Pickup]:
        data, lines = self.cleaned_data, range(1, self.farm_lines + 1)
        names = Pickup.__dataclass_fields__
        given = [{name: data.get(f"farm_{name}_{at}") for name in names} for at in lines]
        return [Pickup(**{name: one for name, one in each.items() if one}) for each in given]

    def add_error(self, field: str | None, error: Any) -> None:
        """What is wrong with the farms stands beside the first of them."""
        super().add_error("farm_1" if field == "farms" else field, error)

    def arrived(self) -> ArriveData:
        """What was typed, as the act takes it."""
        names = [name for name in ArriveData.__dataclass_fields__ if name not in ("farms", "pickups")]
        return ArriveData(farms=self.farms(), pickups=self.pickups(), **self.kept(*names))


class ScreenForm(LoadForm):
    """A residue test."""

    def build(self, plan: Plan) -> None:
        self.fields["stage"] = choice(_("Which test"), [(one, said.stage_words(one)) for one in STAGES])
        results = [(one, said.result_words(one)) for one in RESULTS]
        self.fields["result"] = choice(_("Drug residues"), results, radio=True)
        self.fields["kit"] = words(_("Kit"), 120, required=True)
        self.fields["kit_lot"] = words(_("Lot of the kit"), 60, required=True)
        self.fields["kit_expires"] = forms.DateField(
            label=_("Kit good until"), required=False, widget=forms.DateInput(attrs={"type": "date"}),
            error_messages={"invalid": _("Write the day as 2026-03-03.")},
        )  # fmt: skip
        self.fields["negative_control"] = self.answers(_("Negative control right?"), required=True)
        self.fields["positive_control"] = self.answers(_("Positive control right?"), required=True)
        self.fields["analyst"] = words(_("Analyst"), 120, required=True)
        self.fields["certificate"] = words(
            _("Number of the analyst's certificate"), 60, help_text=_("Wanted for a confirmation.")
        )
        self.fields["sample"] = words(_("Number of the sample"), 60)
        self.when(_("Result read at"))
        self.fields["words"] = note(_("Note"))

    def layout(self) -> FormHelper:
        return helper(
            "form_id",
            "stage",
            "result",
            Row(Field("kit"), Field("kit_lot")),
            "kit_expires",
            Row(Field("negative_control"), Field("positive_control")),
            Row(Field("analyst"), Field("certificate")),
            Row(Field("sample"), Field("happened_at")),
            "words",
            *self.last(),
        )

    def last(self) -> list[Any]:
        return [ActionBar(_("Record the test"))]

    def screened(self, load: int) -> ScreenData:
        """What was typed, as the act takes it."""
        return ScreenData(run=load, **self.kept(*(one for one in ScreenData.__dataclass_fields__ if one != "run")))


class UnloadForm(DoubtedForm, LoadForm):
    """Unloading begun."""

    def build(self, plan: Plan) -> None:
        self.fields["target"] = choice(_("Into"), state.receivers(plan))
        self.when(_("Unloading begun at"))
        self.fields["words"] = note(_("Note"))
        self.ask_field()

    def layout(self) -> FormHelper:
        return helper(
            "form_id", "target", "happened_at", "words", *self.ask_layout(),
            ActionBar(_("It happened: record it"), _("It begins now"), out_name=BEGINS_NOW),
        )  # fmt: skip

    def unload(self, load: int, *, begins_now: bool) -> UnloadData:
        """What was typed, as the act takes it."""
        return UnloadData(
            run=load, begins_now=begins_now, **self.kept("form_id", "target", "happened_at", "words")
        )


class UnloadedForm(DoubtedForm, LoadForm):
    """Unloading ended; the ticket's pounds stand where no quantity is typed."""

    def build(self, plan: Plan) -> None:
        self.when(_("Unloading ended at"))
        self.fields["quantity"] = self.number(
            _("Quantity, if not the ticket's"), help_text=_("Left empty, the pounds of the scale ticket stand.")
        )
        self.fields["unit"] = choice(_("Unit"), self.units())
        self.fields["words"] = note(_("Note"))
        self.ask_field()

    def layout(self) -> FormHelper:
        return helper(
            "form_id", "happened_at", BigNumber("quantity", unit_field="unit"), "words", *self.ask_layout(),
            ActionBar(_("It ended: record it")),
        )  # fmt: skip

    def unloaded(self, load: int) -> UnloadedData:
        """What was typed, as the act takes it."""
        typed = self.cleaned_data["quantity"]
        unit = self.cleaned_data["unit"] if typed else ""
        return UnloadedData(
            run=load, quantity_typed=typed, unit=unit, **self.kept("form_id", "happened_at", "words")
        )


class SayForm(LoadForm):
    """One thing that happened; which one comes with the address."""

    def __init__(self, *args: Any, what: str, **options: Any) -> None:
        self.what = what
        super().__init__(*args, **options)

    def build(self, plan: Plan) -> None:
        self.when(_("At"))
        if self.what in STEPS:
            self.fields["whom"] = words(_("Whom, or which producer"), 200)
        self.fields["words"] = note(said.words_label(self.what), required=self.what != ENDED)

    def layout(self) -> FormHelper:
        whom = ["whom"] if self.what in STEPS else []
        return helper("form_id", "happened_at", *whom, "words", *self.last())

    def last(self) -> list[Any]:
        return [ActionBar(_("It happened: record it"))]

    def said(self, load: int) -> SayData:
        """What was typed, as the act takes it."""
        names = ("form_id", "happened_at", "words", *(("whom",) if self.what in STEPS else ()))
        return SayData(run=load, what=self.what, **self.kept(*names))


class LinkForm(LoadForm):
    """Which load a movement in the book belongs to; the loads come with the page."""

    def __init__(self, *args: Any, loads: list[tuple[str, str]], **options: Any) -> None:
        self.loads = loads
        super().__init__(*args, **options)

    def build(self, plan: Plan) -> None:
        self.fields["run"] = choice(_("Load"), self.loads, radio=True)
        self.fields["movement"] = forms.CharField(required=False, widget=forms.HiddenInput)
        self.fields["words"] = note(_("Note"))

    def layout(self) -> FormHelper:
        return helper("form_id", "run", "words", ActionBar(_("It was this load's: record it")))

    def add_error(self, field: str | None, error: Any) -> None:
        """What is wrong with the movement stands beside the load."""
        super().add_error("run" if field == "movement" else field, error)

    def link(self, movement: int) -> LinkData:
        """What was chosen, as the act takes it."""
        data = self.cleaned_data
        return LinkData(data["form_id"], int(data["run"]), movement, data["words"])


class TagForm(LoadForm):
    """A photo of the wash tag."""

    def build(self, plan: Plan) -> None:
        self.fields["photo"] = photo_field(_("The photo"))
        self.fields["photo"].help_text = _("The whole tag: tanker, day and hour, place, signature. JPEG or PNG.")
        self.fields["words"] = note(_("Note"))

    def layout(self) -> FormHelper:
        return helper("form_id", "photo", "words", ActionBar(_("Keep the photo")))

    def clean_photo(self) -> photos.Photo | None:
        """The picture, by its bytes."""
        found = photos.read(self.cleaned_data.get("photo"))
        if found is None:
            raise forms.ValidationError(_("Take the photo."))
        return found


class WhyForm(LoadForm):
    """One reason: why what waits does not wait any longer, or why a movement was not this load's."""

    def __init__(self, *args: Any, button: Any, **options: Any) -> None:
        self.button = button
        super().__init__(*args, **options)

    def build(self, plan: Plan) -> None:
        self.fields["reason"] = words(_("Reason"), 400, required=True)

    def layout(self) -> FormHelper:
        return helper("form_id", "reason", ActionBar(self.button))


class _Amending:
    """The two fields that an amendment adds."""

    fields: dict[str, Any]

    def add_reason(self) -> None:
        self.fields["reason"] = words(_("Why it is amended"), 400, required=True)
        self.fields["void"] = forms.BooleanField(label=_("It did not happen"), required=False)

    def last(self) -> list[Any]:
        return ["reason", "void", ActionBar(_("Amend it"))]


class AmendArriveForm(_Amending, ArriveForm):
    """A load's paper as it should have been written."""

    def build(self, plan: Plan) -> None:
        super().build(plan)
        self.add_reason()


class AmendScreenForm(_Amending, ScreenForm):
    """A test as it should have been written."""

    def build(self, plan: Plan) -> None:
        super().build(plan)
        self.add_reason()


class AmendSayForm(_Amending, SayForm):
    """A step or note as it should have been written."""

    def build(self, plan: Plan) -> None:
        super().build(plan)
        self.add_reason()
