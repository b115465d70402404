"""What an operator may type on the round. Forms only parse; `records.checks.actions` decides what is kept."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Div, Layout
from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from plant import clock
from plant.forms.layout import ActionBar, BigNumber, Figure, YesNo
from records.checks import photos
from records.checks.asking import Asking
from records.checks.entry import LONGEST_TEXT, PLACE_ANSWERS, Nonsense, ReadingData, place_answers
from records.checks.layouts import Included, More
from records.checks.queries import places_to_walk
from records.deviations.errors import Refused
from records.flow import fields
from records.flow.pages import with_query
from records.people.plans import InForce

YES_NO = [("yes", gettext_lazy("Yes")), ("no", gettext_lazy("No"))]
# A device's clock further off than this says nothing about the reading's time.
FARTHEST_CLOCK_MS = 400 * 24 * 3600 * 1000
REASONS = [
    ("instrument", gettext_lazy("The instrument does not work")),
    ("place", gettext_lazy("The place cannot be reached")),
    ("washing", gettext_lazy("It is being washed")),
    ("empty", gettext_lazy("There is nothing in it to read")),
    ("hands", gettext_lazy("Nobody was free")),
    ("other", gettext_lazy("Something else, in words")),
]


class RoundForm(forms.Form):
    """The base of the round's forms: its own id, the device's clock, refusals beside their fields."""

    use_required_attribute = False  # our own sentence beside the field, not the browser's

    form_id = fields.form_id()
    device_offset_ms = forms.CharField(required=False, max_length=40, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial.setdefault("form_id", uuid.uuid4())
        # The server's moment, so that a script can say how far the device's clock is off.
        self.fields["device_offset_ms"].widget.attrs["data-offset"] = str(int(clock.now().timestamp() * 1000))

    def clean_device_offset_ms(self) -> int | None:
        """How far the device's clock is off, if its script said so; nonsense says nothing."""
        text = self.cleaned_data["device_offset_ms"]
        number = int(text) if text.lstrip("-").isascii() and text.lstrip("-").isdigit() and len(text) < 15 else None
        return number if number is not None and abs(number) <= FARTHEST_CLOCK_MS else None

    def refuse(self, refused: Nonsense | Refused) -> None:
        """Show what was refused, beside its field when the form has it."""
        name = refused.field if refused.field in self.fields else None
        if refused.field == "places" and name is None:
            name = next((one for one in self.fields if one.startswith("place_")), None)
        self.add_error(name, str(refused.sentence))


def _text(label: Any, longest: int = LONGEST_TEXT, **options: Any) -> forms.CharField:
    options.setdefault("required", False)
    said = {
        "max_length": gettext_lazy("This is longer than %(limit_value)d characters; shorten it."),
        "required": gettext_lazy("An answer is needed here."),
    }
    return forms.CharField(label=label, max_length=longest, error_messages=said, **options)


def _figure(label: Any) -> forms.CharField:
    field = _text(label, 40, required=True)
    field.error_messages["required"] = gettext_lazy("Enter a number.")
    field.widget.attrs["autofocus"] = ""
    return field


def _yes_no(label: Any) -> forms.ChoiceField:
    return fields.choice(label, YES_NO, radio=True)


class ReadingForm(RoundForm):
    """One answer to one check. Nothing in it is answered beforehand; the unit and instrument are the usual ones.

    `amending` leaves out what an amendment does not ask again.
    """

    def __init__(self, *args: Any, asking: Asking, now: datetime, initials: str, back: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.asking, self.now, self.initials, self.back = asking, now, initials, back
        self.answers: list[Any] = []
        self.questions: list[Any] = []
        getattr(self, f"_ask_{asking.kind}")()
        if asking.monitoring.agitator_min:
            words = _("Did the agitator run for %(minutes)s minutes?") % {"minutes": asking.monitoring.agitator_min}
            self.fields["agitator_ran"] = _yes_no(words)
            self.fields["bulb_covered"] = _yes_no(_("Does the milk cover the bulb?"))
            self.questions.append(Div(YesNo("agitator_ran"), YesNo("bulb_covered"), css_class="pair-of-questions"))
        self._ask_instrument()
        self._ask_the_rest()

    # --- the answer, kind by kind

    def _ask_number(self) -> None:
        self.fields["typed"] = _figure(self.asking.what)
        self._ask_unit()
        self.answers.append(self._big("typed"))

    def _ask_count(self) -> None:
        self.fields["typed"] = _figure(self.asking.what)
        self.answers.append(BigNumber("typed"))

    def _ask_pair(self) -> None:
        self.fields["typed"] = _figure(_("Indicating thermometer"))
        self.fields["typed_second"] = _figure(_("Recording thermometer"))
        self._ask_unit()
        self.answers += [self._big("typed"), BigNumber("typed_second", self.asking.unit)]

    def _big(self, name: str) -> BigNumber:
        if len(self.asking.units) > 1:
            return BigNumber(name, unit_field="unit")
        return BigNumber(name, self.asking.unit)

    def _ask_unit(self) -> None:
        if len(self.asking.units) > 1:
            self.fields["unit"] = fields.choice(_("Unit"), [(one, one) for one in self.asking.units])
            self.initial.setdefault("unit", self.asking.unit)

    def _ask_yes_no(self) -> None:
        self.fields["typed"] = _yes_no(self.asking.what)
        self.answers.append(YesNo("typed"))

    def _ask_choice(self) -> None:
        choices = [(one, one) for one in self.asking.monitoring.answer.choices]
        self.fields["typed"] = fields.choice(self.asking.what, choices, radio=True)
        self.answers.append("typed")

    def _ask_text(self) -> None:
        self.fields["typed"] = _text(self.asking.what, widget=forms.Textarea(attrs={"rows": 3}), required=True)
        self.answers.append("typed")

    def _ask_code(self) -> None:
        box = forms.TextInput(attrs={"class": "code-input", "autocomplete": "off", "autocapitalize": "characters"})
        self.fields["typed"] = _text(self.asking.what, 120, widget=box, required=True)
        self.answers.append("typed")

    def _ask_places(self) -> None:
        answers = [(one, _(one)) for one in place_answers(self.asking.monitoring)]
        for at, place in enumerate(self.asking.monitoring.answer.places):
            self.fields[f"place_{at}"] = fields.choice(place, answers, radio=True, required=False)
        names = [f"place_{at}" for at in range(len(self.asking.monitoring.answer.places))]
        rest = [(one, _(one)) for one in self._wanted()]
        self.answers.append(
            Included("records/checks/_places.html", names=names, what=self.asking.what, rest_answers=rest)
        )

    def _wanted(self) -> list[str]:
        """The answer that 'all the rest' may give: the first that the limits want; never another."""
        answers = place_answers(self.asking.monitoring)
        wanted = [one for limit in self.asking.limits("") for one in limit.wanted if one in answers]
        return (wanted or [one for one in answers if one == PLACE_ANSWERS[0]])[:1]

    def _ask_photo(self) -> None:
        self.fields["photo"] = photo_field(self.asking.what)
        self.answers.append("photo")

    # --- beside the answer

    def _ask_instrument(self) -> None:
        if self.asking.kind not in ("number", "pair"):
            return
        usual, named = self.asking.usual, self.asking.monitoring.instruments
        if usual is None and named:
            own = [one for one in self.asking.instruments if one.code in named]
            choices = [(one.code, f"{one.code}, {one.name}") for one in own]
            self.fields["instrument"] = fields.choice(_("Which one was read?"), choices, radio=True)
            self.answers.append("instrument")

    def _ask_the_rest(self) -> None:
        usual, choices = self.asking.usual, self.asking.instruments
        rest = ["observed_at", "late_reason"]
        calendar = self.asking.in_force.calendar
        self.fields["observed_at"] = fields.PlantTime(
            calendar=calendar,
            now=self.now,
            required=False,
            label=_("Read at another time than now"),
            help_text=_("Time at the plant; empty means now."),
        )
        self.fields["late_reason"] = _text(_("Why earlier or later than asked"))
        if "instrument" not in self.fields and choices:
            first = _("%(code)s, as usual") % {"code": usual.code} if usual else _("none named")
            others = [(one.code, f"{one.code}, {one.name}") for one in choices if one != usual]
            self.fields["instrument"] = fields.choice(
                _("Another instrument was read"), [("", first), *others], required=False
            )
            rest.append("instrument")
        self.fields["paper_form"] = _text(_("Copied from paper form no."), 40)
        self.fields["note"] = _text(_("Note"), widget=forms.Textarea(attrs={"rows": 2}))
        rest.append("paper_form")
        if self.asking.kind != "photo":
            self.fields["photo"] = photo_field(_("Photo (of the paper, of what was seen)"))
            rest.append("photo")
        self.rest = [*rest, "note"]

    # --- laid out, and read

    @property
    def helper(self) -> FormHelper:
        """The answer at the left, number keys beside it, the rest folded away, the acts below."""
        helper = FormHelper()
        helper.form_tag = False
        head, gauge = Included("records/checks/_head.html"), Included("records/checks/_gauge.html")
        how = Included("records/checks/_how.html")
        parts: list[Any] = [Div(head, *self.answers, gauge, *self.questions, how, css_class="read")]
        if self.asking.kind in ("number", "pair", "count"):
            parts.append(Included("records/checks/_keys.html"))
        parts.append(Div(More(_("Another time or instrument, paper, photo, note"), *self.rest), css_class="more"))
        parts.append(self.bar())
        helper.layout = Layout("form_id", "device_offset_ms", *parts)
        return helper

    def bar(self) -> ActionBar:
        """The acts: save, or say that it could not be taken."""
        words = _("Save, initials %(initials)s") % {"initials": self.initials}
        return ActionBar(words, _("I could not take it"), out_url=with_query("", could_not="1", next=self.back))

    def clean_photo(self) -> photos.Photo | None:
        """The picture's bytes, checked to be one."""
        return photos.read(self.cleaned_data.get("photo"))

    def data_of(self) -> ReadingData:
        """What was typed, for the action. The photo's bytes are put under their hash here, the entry comes with it."""
        said, asking = self.cleaned_data, self.asking
        photo = said.get("photo")
        return ReadingData(
            form_id=said["form_id"],
            subject=asking.subject,
            monitoring_key=asking.monitoring.key,
            event=asking.event,
            due_at=asking.due_at,
            typed=said.get("typed", ""),
            typed_second=said.get("typed_second", ""),
            unit=said.get("unit") or asking.unit,
            places=self._places(),
            instrument=said.get("instrument", ""),
            agitator_ran=_answered(said.get("agitator_ran")),
            bulb_covered=_answered(said.get("bulb_covered")),
            note=said["note"],
            observed_at=said["observed_at"],
            late_reason=said["late_reason"],
            paper_form=said["paper_form"],
            device_offset_ms=said["device_offset_ms"],
            **photos.put(photo),
        )

    def _places(self) -> dict[str, str]:
        """Each place's answer. 'All the rest' is an answer of its own, given by its button."""
        if self.asking.kind != "places":
            return {}
        rest = self.data.get("all_rest", "")
        rest = rest if rest in self._wanted() else ""
        names = self.asking.monitoring.answer.places
        return {place: self.cleaned_data.get(f"place_{at}") or rest for at, place in enumerate(names)}


def _answered(text: str | None) -> bool | None:
    return {"yes": True, "no": False}.get(text or "")


def photo_field(label: Any) -> forms.FileField:
    """A picture from the tablet's camera or a file."""
    box = forms.FileInput(attrs={"accept": "image/*", "capture": "environment"})
    return forms.FileField(label=label, required=False, max_length=200, widget=box)


class NotTakenForm(RoundForm):
    """'I could not take it': why. Nobody is forced to invent a number."""

    why = fields.choice(gettext_lazy("Why could it not be taken?"), REASONS, radio=True)
    words = _text(gettext_lazy("In words"), widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(self, *args: Any, asking: Asking, initials: str, back: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.asking, self.initials, self.back = asking, initials, back

    @property
    def helper(self) -> FormHelper:
        """The reasons, then the acts."""
        helper = FormHelper()
        helper.form_tag = False
        words = _("Save 'not taken', initials %(initials)s") % {"initials": self.initials}
        bar = ActionBar(words, _("Back to the reading"), out_url=self.back)
        head = Included("records/checks/_head.html")
        helper.layout = Layout("form_id", "device_offset_ms", head, "why", "words", bar)
        return helper

    def clean(self) -> dict[str, Any]:
        """'Something else' needs its words."""
        said = super().clean() or {}
        if said.get("why") == "other" and not said.get("words"):
            self.add_error("words", _("Write why."))
        return said

    def data_of(self) -> ReadingData:
        """What was said, for the action: the reason's words are kept, not its key."""
        said, asking = self.cleaned_data, self.asking
        with asking.in_force.speaking():
            reason = "" if said["why"] == "other" else str(dict(REASONS)[said["why"]])
        return ReadingData(
            form_id=said["form_id"],
            subject=asking.subject,
            monitoring_key=asking.monitoring.key,
            event=asking.event,
            due_at=asking.due_at,
            not_taken=". ".join(one for one in (reason, said["words"]) if one),
            device_offset_ms=said["device_offset_ms"],
        )


class DoneForm(RoundForm):
    """What was done after a reading that asks for it."""

    text = _text(gettext_lazy("What was done?"), widget=forms.Textarea(attrs={"rows": 3}), required=True)

    def __init__(self, *args: Any, initials: str, leave: str, leave_words: str, label: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initials, self.leave, self.leave_words = initials, leave, leave_words
        self.fields["text"].error_messages["required"] = _("Write what was done.")
        if label:
            self.fields["text"].label = label

    @property
    def helper(self) -> FormHelper:
        """The words, then the acts."""
        helper = FormHelper()
        helper.form_tag = False
        words = _("Save, initials %(initials)s") % {"initials": self.initials}
        bar = ActionBar(words, self.leave_words, out_url=self.leave)
        helper.layout = Layout("form_id", "device_offset_ms", "text", bar)
        return helper


FREE_UNITS = ("°F", "°C", "gal", "L", "lb", "kg", "psi", "kPa", "min", "h", "mg/L", "percent")


class FreeForm(RoundForm):
    """Any reading or note on any vessel at any time, asked for or not."""

    def __init__(self, *args: Any, in_force: InForce, now: datetime, initials: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initials = initials
        plan = in_force.plan
        places = [(code, in_force.names[code]) for code in places_to_walk(in_force)]
        none = ("", _("Choose a place"))
        self.fields["subject"] = fields.choice(_("Where"), [none, *places])
        self.fields["typed"] = _text(_("What was read (a number), if anything"), 40)
        units = list(dict.fromkeys([f"°{plan.plant.temperature_unit}", *FREE_UNITS]))
        self.fields["unit"] = fields.choice(_("Unit"), [(one, one) for one in units], required=False)
        instruments = [(one.code, f"{one.code}, {one.name}") for one in plan.instruments]
        self.fields["instrument"] = fields.choice(_("Read with"), [("", _("not said")), *instruments], required=False)
        self.fields["note"] = _text(_("What was seen or done"), widget=forms.Textarea(attrs={"rows": 3}))
        self.fields["observed_at"] = fields.PlantTime(
            calendar=in_force.calendar,
            now=now,
            required=False,
            label=_("At another time than now"),
            help_text=_("Time at the plant; empty means now."),
        )
        self.fields["paper_form"] = _text(_("Copied from paper form no."), 40)
        self.fields["photo"] = photo_field(_("Photo"))

    @property
    def helper(self) -> FormHelper:
        """Where, what, then the acts."""
        helper = FormHelper()
        helper.form_tag = False
        number = Div(Figure("typed"), "unit", "instrument", css_class="row")
        rest = More(_("Another time, paper, photo"), "observed_at", "paper_form", "photo")
        bar = ActionBar(_("Save, initials %(initials)s") % {"initials": self.initials})
        helper.layout = Layout("form_id", "device_offset_ms", "subject", number, "note", rest, bar)
        return helper

    def clean_photo(self) -> photos.Photo | None:
        """The picture's bytes, checked to be one."""
        return photos.read(self.cleaned_data.get("photo"))

    def data_of(self) -> ReadingData:
        """What was said; a number has its unit, a note none."""
        said = self.cleaned_data
        number = bool(said["typed"])
        return ReadingData(
            form_id=said["form_id"],
            subject=said["subject"],
            typed=said["typed"],
            unit=said["unit"] if number else "",
            instrument=said["instrument"] if number else "",
            note=said["note"],
            observed_at=said["observed_at"],
            paper_form=said["paper_form"],
            device_offset_ms=said["device_offset_ms"],
            what=_("unasked reading") if number else _("note"),
            **photos.put(said.get("photo")),
        )
