"""The form template pack and its layout objects: labels, what was typed, what is wrong, ties for screen readers."""

from html.parser import HTMLParser
from typing import Any

import pytest
from crispy_forms.helper import FormHelper
from crispy_forms.layout import Fieldset, Layout, Row, Submit
from crispy_forms.utils import render_crispy_form
from django import forms

from plant.forms.layout import ActionBar, BigNumber, Figure, Places, YesNo


class TankForm(forms.Form):
    """Every kind of answer that a round asks for."""

    value = forms.DecimalField(label="Temperature", help_text="Thermometer T-04")
    unit = forms.ChoiceField(label="Unit", choices=[("F", "°F"), ("C", "°C")])
    agitator = forms.ChoiceField(
        label="Agitator ran", choices=[("yes", "Yes"), ("no", "No")], widget=forms.RadioSelect, help_text="5 minutes"
    )
    traps = forms.MultipleChoiceField(
        label="Traps",
        choices=[(str(i), f"{i}") for i in range(1, 21)],
        widget=forms.CheckboxSelectMultiple,
        required=False,
    )
    strength = forms.DecimalField(label="Strength", required=False)
    method = forms.ChoiceField(label="Method", choices=[("h", "hot water")])
    note = forms.CharField(label="Note", widget=forms.Textarea, required=False)
    photo = forms.FileField(label="Photo", required=False)
    covered = forms.BooleanField(label="Bulb covered")
    form_id = forms.CharField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        """Lay it out with every object."""
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.layout = Layout(
            BigNumber("value", unit_field="unit"),
            YesNo("agitator"),
            Places("traps"),
            Fieldset("Sanitizing", Row("method", Figure("strength", unit="ppm"))),
            "note",
            "photo",
            "covered",
            "form_id",
            ActionBar("Save", "I could not take it"),
        )


class Page(HTMLParser):
    """The elements of a page with their attributes, and which labels and texts go with them."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Keep each element."""
        names = [name for name, _value in attrs]
        assert len(names) == len(set(names)), f"an attribute comes twice on {tag}: {attrs}"
        self.elements.append((tag, dict(attrs)))

    def all(self, *tags: str) -> list[dict[str, str | None]]:
        """Return the attributes of every element with one of these tags."""
        return [attrs for tag, attrs in self.elements if tag in tags]

    def ids(self) -> list[str]:
        """Return every id."""
        return [attrs["id"] or "" for _tag, attrs in self.elements if "id" in attrs]

    def by_name(self, name: str) -> dict[str, str | None]:
        """Return the first control of that name."""
        return next(a for a in self.all("input", "select", "textarea") if a.get("name") == name)


WRONG = {"value": "43,,8", "unit": "F", "agitator": "", "traps": ["3"], "strength": "abc", "note": "half <b>typed"}


def _page(data: dict[str, Any] | None = None) -> Page:
    return Page(render_crispy_form(TankForm(data)))


@pytest.mark.parametrize("data", [None, WRONG], ids=["empty", "with errors"])
def test_every_control_has_a_label(data: dict[str, Any] | None) -> None:
    """Each control that can be seen has a label of its own."""
    page = _page(data)
    labelled = {attrs.get("for") for attrs in page.all("label")}
    controls = [a for a in page.all("input", "select", "textarea") if a.get("type") != "hidden"]
    assert len(controls) == 2 + 2 + 20 + 5
    assert all(attrs.get("id") in labelled for attrs in controls)


@pytest.mark.parametrize("data", [None, WRONG], ids=["empty", "with errors"])
def test_no_id_comes_twice(data: dict[str, Any] | None) -> None:
    """Ids are unique, also where a group of choices has one."""
    ids = _page(data).ids()
    assert len(ids) == len(set(ids))


@pytest.mark.parametrize("data", [None, WRONG], ids=["empty", "with errors"])
def test_every_description_exists(data: dict[str, Any] | None) -> None:
    """What aria-describedby points to is on the page: help and errors."""
    page = _page(data)
    pointed = [i for _t, a in page.elements for i in (a.get("aria-describedby") or "").split()]
    assert pointed
    assert set(pointed) <= set(page.ids())


def test_help_and_error_are_both_tied_to_the_field() -> None:
    """A wrong field with help names both, the help first."""
    assert _page(WRONG).by_name("value")["aria-describedby"] == "id_value_helptext id_value_error"


def test_the_summary_links_to_each_wrong_field() -> None:
    """The summary is an alert; each of its links leads to a control or a group on the page."""
    page = _page(WRONG)
    assert any(a.get("role") == "alert" and a.get("class") == "errors" for a in page.all("div"))
    links = [a["href"] for a in page.all("a") if (a.get("href") or "").startswith("#")]
    assert links == ["#id_value", "#id_agitator", "#id_strength", "#id_method", "#id_covered"]
    assert {(link or "")[1:] for link in links} <= set(page.ids())


def test_a_form_without_errors_has_no_summary() -> None:
    """An unsent form raises no alarm."""
    assert 'role="alert"' not in render_crispy_form(TankForm())


def test_an_error_of_the_whole_form_stands_in_the_summary() -> None:
    """What belongs to no field is said at the top."""
    form = TankForm(WRONG)
    form.add_error(None, "The tank & the plan disagree")
    assert "<li>The tank &amp; the plan disagree</li>" in render_crispy_form(form)


def test_what_was_typed_is_kept() -> None:
    """Nonsense is shown again as it was typed, in number fields too, and markup stays text."""
    page = _page(WRONG)
    assert page.by_name("value")["value"] == "43,,8"
    assert page.by_name("strength")["value"] == "abc"
    assert any(a.get("name") == "traps" and a.get("value") == "3" and "checked" in a for a in page.all("input"))
    assert "half &lt;b&gt;typed" in render_crispy_form(TankForm(WRONG))


def test_number_fields_are_text_boxes_with_number_keys() -> None:
    """A number box would lose '43,,8'; a text box with inputmode keeps it and still brings the number keys."""
    page = _page()
    for name in ("value", "strength"):
        field = page.by_name(name)
        assert (field["type"], field["inputmode"], field["autocomplete"]) == ("text", "decimal", "off")
    assert "data-big" in page.by_name("value")


def test_nothing_is_answered_beforehand() -> None:
    """Yes and no start open."""
    assert not any("checked" in attrs for attrs in _page().all("input"))


def test_the_way_out_comes_with_the_main_act() -> None:
    """The bar has the main act and the honest way out as a button of the same form."""
    buttons = _page().all("button")
    assert [(b.get("class"), b.get("name")) for b in buttons] == [("out", "could_not"), ("act", None)]


def test_the_way_out_may_be_a_link() -> None:
    """A way out that is another page is a link."""
    form = TankForm()
    form.helper.layout = Layout(ActionBar("Save", "Back", out_url="/x?a=1&b=2"))
    assert '<a class="out" href="/x?a=1&amp;b=2">Back</a>' in render_crispy_form(form)


def test_a_unit_beside_a_number_is_shown() -> None:
    """A fixed unit stands in words beside its field."""
    assert '<span class="unit">ppm</span>' in render_crispy_form(TankForm())


def test_files_can_be_sent() -> None:
    """A form with a file field is sent as multipart."""
    assert _page().all("form")[0]["enctype"] == "multipart/form-data"


def test_crispys_own_submit_button_is_in_the_look() -> None:
    """The stock button of crispy-forms becomes an ink bar."""
    form = TankForm()
    form.helper.add_input(Submit("go", "Send"))
    assert any(b.get("class", "").split()[:1] == ["act"] and b.get("name") == "go" for b in _buttons(form))


def _buttons(form: TankForm) -> list[dict[str, Any]]:
    return Page(render_crispy_form(form)).all("button")


def test_no_inline_style_or_script() -> None:
    """A strict content security policy finds nothing to refuse."""
    page = _page(WRONG)
    assert not page.all("style", "script")
    assert not [name for _t, attrs in page.elements for name in attrs if name == "style" or name.startswith("on")]
