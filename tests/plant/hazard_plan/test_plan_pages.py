"""The plan's pages: what is in force, a draft and its editing, confirmations, the rule set."""

import re
from dataclasses import replace
from pathlib import Path

import pytest
from django.urls import reverse
from django.utils.html import conditional_escape

from plant import clock
from plant.hazard_plan import drafts
from plant.hazard_plan.models import Monitoring, PlanVersion
from plant.hazard_plan.written import plan_of, read, store
from records.ledger.models import Entry

pytestmark = pytest.mark.django_db


@pytest.fixture
def draft(plant):
    """A draft made from the version in force."""
    return drafts.new_draft(PlanVersion.objects.get(), plant.people.odile, clock.now())


def row_id(version, table, key):
    """The id of one row of a draft."""
    return next(one.id for one in drafts.rows(version, table) if one.key == key)


def address(version, table, key):
    """Where a row is edited."""
    return reverse("plant:plan-row", args=[version.number, table, row_id(version, table, key)])


def filled(response):
    """What the form on a page would send when nothing is changed."""
    form = response.context["form"]
    sent = {}
    for bound in form:
        value = bound.value()
        if value is None or value is False or bound.field.disabled:
            continue
        sent[bound.html_name] = "on" if value is True else value
    return sent


def test_the_plan_in_force_is_shown_with_clause_and_basis(plant, client_for):
    """Limits stand with their clause and what they stand on, and the caution says who decides."""
    page = client_for(plant.people.wren).get(reverse("plant:plan"))
    text = page.content.decode()
    assert page.status_code == 200
    assert "The regulator, the state" in text
    for one in plan_of(PlanVersion.objects.get()).limits:
        assert one.quantity in text


def test_quillbrooks_whole_plan_is_shown(installed, browser_of):
    """Every step, hazard, control point and check of the written plan stands on its page."""
    version = store(read(Path("plant/demo/quillbrook.toml").read_text(encoding="utf-8")), None, clock.now())
    text = browser_of(installed.odile).get(reverse("plant:plan-version", args=[version.number])).content.decode()
    plan = plan_of(version)
    for table in ("steps", "hazards", "control_points", "monitoring", "programmes", "verification"):
        for one in getattr(plan, table):
            assert text.count(f'id="{table}-{one.key}"') == 1, one.key
    assert "from memory: nobody read the text" in text
    assert "No reference is broken" in text


def test_what_several_limits_note_is_said_once(installed, browser_of):
    """Each limit refers to it: under its table when one control point alone has it, else where limits come from."""
    version = store(read(Path("plant/demo/quillbrook.toml").read_text(encoding="utf-8")), None, clock.now())
    text = browser_of(installed.odile).get(reverse("plant:plan-version", args=[version.number])).content.decode()
    notes = [one.note for one in plan_of(version).limits if one.note]
    shared = {note for note in notes if notes.count(note) > 1}
    assert len(shared) >= 2
    for note in shared:
        said = rf'id="note-(\d+)">Note \1: {re.escape(conditional_escape(note))}</p>'
        (number,) = re.findall(said, text)
        assert text.count(f'href="#note-{number}"') >= notes.count(note)
        assert f'<span class="quiet">{conditional_escape(note)}</span>' not in text
    for note in set(notes) - shared:
        assert conditional_escape(note) in text
    water = text.index("A water test can overstate the hold")
    start, end = text.index('id="control_points-ccp-holding"'), text.index("</article>", water)
    assert start < water and "<article" not in text[start + 1 : end]


def test_each_class_of_product_has_its_rows(installed, browser_of):
    """21 CFR 1240.61(b) and 135.3, temperature and time of each row together, by the products of the plan."""
    version = store(read(Path("plant/demo/quillbrook.toml").read_text(encoding="utf-8")), None, clock.now())
    text = browser_of(installed.odile).get(reverse("plant:plan-version", args=[version.number])).content.decode()
    table = text.partition('id="classes"')[2].partition("</table>")[0]
    rows = dict(zip(re.findall(r"<td>(milk|raised|mix)</td>", table), table.split("</tr>")[1:], strict=False))
    assert "161 °F for 15 s" in rows["milk"] and "166 °F" not in rows["milk"] and "Whole milk" in rows["milk"]
    assert "166 °F for 15 s" in rows["raised"] and "161 °F" not in rows["raised"] and "Pouring cream" in rows["raised"]
    assert "175 °F for 25 s" in rows["mix"] and "155 °F for 30 min" in rows["mix"] and "21 CFR 135.3" in rows["mix"]
    assert "/plant/rules/us/#htst-milk" in rows["milk"]


def test_the_caution_is_said_once(installed, browser_of):
    """Who decides stands in one sentence; the plan's own caution is named as what every sheet carries."""
    version = store(read(Path("plant/demo/quillbrook.toml").read_text(encoding="utf-8")), None, clock.now())
    text = browser_of(installed.odile).get(reverse("plant:plan-version", args=[version.number])).content.decode()
    (caution,) = re.findall(r'<p class="caution">(.*?)</p>', text, re.DOTALL)
    assert caution.count("regulator") == 1 and "qualified individual decide what is safe" in caution
    own = conditional_escape(plan_of(version).plant.caution)
    assert text.count(own) == 1 and f"<dt>Caution on every sheet</dt><dd>{own}</dd>" in text


def test_before_any_plan_the_page_says_so(installed, browser_of):
    """An empty plant has a plan page that says what to do."""
    page = browser_of(installed.odile).get(reverse("plant:plan"))
    assert "There is no plan yet" in page.content.decode()


def test_a_new_draft_says_what_the_version_says(plant, client_for):
    """One press makes a draft; nothing is entered in the ledger, for a draft is no record."""
    entries = Entry.objects.count()
    page = client_for(plant.people.odile).post(reverse("plant:plan-new-draft", args=[1]))
    assert page.status_code == 302
    assert plan_of(PlanVersion.objects.get(number=2)) == plan_of(PlanVersion.objects.get(number=1))
    assert Entry.objects.count() == entries


def test_a_double_tap_makes_one_draft(plant, client_for):
    """The second press finds the untouched draft of the first."""
    client = client_for(plant.people.odile)
    for _ in range(2):
        page = client.post(reverse("plant:plan-new-draft", args=[1]))
        assert page["Location"] == reverse("plant:plan-version", args=[2])
    assert PlanVersion.objects.count() == 2


def test_asking_for_a_draft_by_get_changes_nothing(plant, client_for):
    """A link that is only opened makes no draft."""
    assert client_for(plant.people.odile).get(reverse("plant:plan-new-draft", args=[1])).status_code == 405
    assert PlanVersion.objects.count() == 1


@pytest.mark.parametrize("who", ["ines", "wren", "piet", "guest"])
def test_others_may_read_and_not_change(plant, draft, client_for, who):
    """Who is no qualified individual and no owner reads the plan, sees no edit, and is refused one."""
    client = client_for(getattr(plant.people, who))
    page = client.get(reverse("plant:plan-version", args=[draft.number]))
    assert page.status_code == 200
    assert ">edit</a>" not in page.content.decode()
    key = plan_of(draft).limits[0].key
    assert client.get(address(draft, "limits", key)).status_code == 403
    assert client.post(address(draft, "limits", key), {}).status_code == 403


@pytest.mark.parametrize(
    "table", ["steps", "hazards", "control_points", "limits", "monitoring", "shifts", "escalation"]
)
def test_saving_a_row_unchanged_changes_nothing(plant, draft, client_for, table):
    """What a form shows is what it saves: opened and saved, the draft says the same."""
    client = client_for(plant.people.odile)
    before = plan_of(draft)
    for one in drafts.rows(draft, table):
        where = reverse("plant:plan-row", args=[draft.number, table, one.id])
        assert client.post(where, filled(client.get(where))).status_code == 302, one.key
    assert plan_of(draft) == before


def test_a_limit_of_a_draft_is_changed(plant, draft, client_for):
    """A stricter limit is saved in the draft, and the version in force stays as it was."""
    client = client_for(plant.people.odile)
    limit = next(one for one in plan_of(draft).limits if one.high)
    sent = filled(client.get(address(draft, "limits", limit.key))) | {"high": "39.5", "operating_high": "38"}
    assert client.post(address(draft, "limits", limit.key), sent).status_code == 302
    assert plan_of(draft).limit_by_key(limit.key).high == "39.5"
    assert plan_of(PlanVersion.objects.get(number=1)).limit_by_key(limit.key) == limit


def test_the_key_of_a_row_stays(plant, draft, client_for):
    """A key that is sent all the same is not taken: it stays the same across versions."""
    client = client_for(plant.people.odile)
    key = plan_of(draft).monitoring[0].key
    where = address(draft, "monitoring", key)
    assert client.post(where, filled(client.get(where)) | {"key": "other"}).status_code == 302
    assert Monitoring.objects.filter(version=draft, key=key).exists()


def test_a_row_is_added_and_taken_out(plant, draft, client_for):
    """A hazard joins the draft at its end and leaves it again."""
    client = client_for(plant.people.odile)
    step = plan_of(draft).steps[0].key
    sent = {
        "key": "dust",
        "step": step,
        "kind": "physical",
        "text": "Dust",
        "reason": "Roof work",
        "control": "Cover",
    }
    assert client.post(reverse("plant:plan-row-add", args=[draft.number, "hazards"]), sent).status_code == 302
    assert plan_of(draft).hazards[-1].key == "dust"
    gone = reverse("plant:plan-row-remove", args=[draft.number, "hazards", row_id(draft, "hazards", "dust")])
    assert client.get(gone).status_code == 405
    assert client.post(gone).status_code == 302
    assert all(one.key != "dust" for one in plan_of(draft).hazards)


def test_a_key_used_already_is_refused_beside_its_field(plant, draft, client_for):
    """A second row of the same key is refused, and what was typed is kept."""
    standing = plan_of(draft).hazards[0]
    sent = {
        "key": standing.key,
        "step": standing.step,
        "kind": "physical",
        "text": "Kept words",
        "reason": "x",
        "control": "x",
    }
    page = client_for(plant.people.odile).post(reverse("plant:plan-row-add", args=[draft.number, "hazards"]), sent)
    text = page.content.decode()
    assert page.status_code == 200
    assert "used already in this draft" in text and "Kept words" in text
    assert len(plan_of(draft).hazards) == len(plan_of(PlanVersion.objects.get(number=1)).hazards)


@pytest.mark.parametrize(
    "table", ["limits", "monitoring", "hazards", "steps", "control_points", "programmes", "reviewers"]
)
def test_an_empty_form_shows_what_is_missing(plant, draft, client_for, table):
    """Nothing typed, nothing saved, a sentence beside each field that is needed."""
    before = plan_of(draft)
    page = client_for(plant.people.odile).post(reverse("plant:plan-row-add", args=[draft.number, table]), {})
    assert page.status_code == 200
    assert page.context["form"].errors
    assert plan_of(draft) == before


@pytest.mark.parametrize(
    "value", ["<script>alert(1)</script>", "x" * 5000, "\x00", "9" * 400, "-1", "1e9", "ten", "\u202e", "' OR 1=1 --"]
)
def test_nonsense_is_no_error_of_the_server(plant, draft, client_for, value):
    """Whatever is typed into every field at once, the answer is a page and the plan stays readable."""
    client = client_for(plant.people.odile)
    for table in ("limits", "monitoring", "shifts", "closures", "reviewers", "escalation"):
        where = reverse("plant:plan-row-add", args=[draft.number, table])
        names = client.get(where).context["form"].fields
        page = client.post(where, dict.fromkeys(names, value))
        assert page.status_code in (200, 302)
    shown = client.get(reverse("plant:plan-version", args=[draft.number]))
    assert shown.status_code == 200
    assert b"<script>alert(1)" not in shown.content


def test_an_approved_version_has_no_form(plant, client_for):
    """What is frozen is not edited: its rows have no page, for reading or writing."""
    client = client_for(plant.people.odile)
    version = PlanVersion.objects.get()
    where = address(version, "limits", plan_of(version).limits[0].key)
    before = plan_of(version)
    assert client.get(where).status_code == 404
    assert client.post(where, {"high": "50"}).status_code == 404
    assert client.post(reverse("plant:plan-header", args=[1]), {"title": "Other"}).status_code == 404
    assert plan_of(version) == before


def test_a_foreign_row_is_not_found(plant, draft, client_for):
    """A row of another version, an unknown table and an unknown number are 404, not another's row."""
    client = client_for(plant.people.odile)
    other = row_id(PlanVersion.objects.get(number=1), "limits", plan_of(draft).limits[0].key)
    assert client.get(reverse("plant:plan-row", args=[draft.number, "limits", other])).status_code == 404
    assert client.get(reverse("plant:plan-row-add", args=[draft.number, "people"])).status_code == 404
    assert client.get(reverse("plant:plan-version", args=[99])).status_code == 404


def test_title_plant_and_settings_are_edited(plant, draft, client_for):
    """The header saves as shown, with what was changed."""
    client = client_for(plant.people.odile)
    where = reverse("plant:plan-header", args=[draft.number])
    sent = filled(client.get(where)) | {
        "title": "Spring plan",
        "settings_record_years": "5",
        "caution": "Ask the state.",
    }
    assert client.post(where, sent).status_code == 302
    changed = plan_of(PlanVersion.objects.get(number=draft.number))
    assert (changed.title, changed.settings.record_years, changed.plant.caution) == ("Spring plan", 5, "Ask the state.")
    assert changed.plant.time_zone == plan_of(PlanVersion.objects.get(number=1)).plant.time_zone


def test_a_broken_draft_shows_what_stands_against_it(plant, draft, client_for):
    """A draft may be broken; its page says where, and that it bars approval."""
    Monitoring.objects.filter(version=draft).update(control_point="nothing")
    text = client_for(plant.people.odile).get(reverse("plant:plan-version", args=[draft.number])).content.decode()
    assert "Bars approval" in text
    assert "no control point of this plan" in text


@pytest.fixture
def laxer(installed):
    """A draft of Quillbrook's plan with raw milk at 46 °F: laxer than a row known from a mirror."""
    plan = read(Path("plant/demo/quillbrook.toml").read_text(encoding="utf-8"))
    limits = tuple(replace(one, high="46") if one.key == "raw-cold" else one for one in plan.limits)
    return store(replace(plan, limits=limits), None, clock.now())


def test_the_qualified_individual_confirms_with_a_reason(laxer, installed, browser_of):
    """The reason and the name are kept in the draft, and the bar is lifted."""
    client = browser_of(installed.odile)
    text = client.get(reverse("plant:plan-version", args=[laxer.number])).content.decode()
    assert "Waits for a confirmation" in text
    where = reverse("plant:plan-confirm", args=[laxer.number, "raw-cold"])
    assert client.post(where, {"reason": ""}).context["form"].errors
    assert client.post(where, {"reason": "Letter of the state, 2 March"}).status_code == 302
    said = {"limit": "raw-cold", "reason": "Letter of the state, 2 March", "by": "odile"}
    assert plan_of(laxer).confirmations == (said,)
    assert (
        "Waits for a confirmation"
        not in client.get(reverse("plant:plan-version", args=[laxer.number])).content.decode()
    )


def test_the_owner_cannot_confirm(laxer, installed, browser_of):
    """A confirmation is the qualified individual's alone."""
    where = reverse("plant:plan-confirm", args=[laxer.number, "raw-cold"])
    assert browser_of(installed.hanne).post(where, {"reason": "cheaper"}).status_code == 403
    assert plan_of(laxer).confirmations == ()


def test_a_limit_that_is_not_there_cannot_be_confirmed(laxer, installed, browser_of):
    """Only limits of the draft have the page."""
    where = reverse("plant:plan-confirm", args=[laxer.number, "no/such"])
    assert browser_of(installed.odile).get(where).status_code == 404


def test_the_rule_set_shows_every_row(plant, client_for):
    """Each row stands with clause and basis."""
    from plant.rules import rule_set

    text = client_for(plant.people.guest).get(reverse("plant:rules", args=["us"])).content.decode()
    assert set(re.findall(r'<tr id="([^"]+)"', text)) == set(rule_set("us").rows)
    assert "printed 72 °C" in text


def test_an_unknown_rule_set_is_not_found(plant, client_for):
    """No file is read by a name from the address."""
    assert client_for(plant.people.wren).get(reverse("plant:rules", args=["moon"])).status_code == 404
