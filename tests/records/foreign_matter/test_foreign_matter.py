"""What each look keeps, holds and refuses; that a form is kept once and what an amendment changes; the pages."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from plant import clock
from plant.hazard_plan.content import AnswerDef, ControlPointDef, FrequencyDef, LimitDef, MonitoringDef, Settings
from records.checks import watch
from records.checks.models import Reading
from records.deviations.models import Deviation, DeviationCause, Hold
from records.flow.errors import DifferentContent, Refused
from records.foreign_matter import actions, data, queries
from records.foreign_matter.models import Breakage, DetectorChallenge, PartsCount, StrainerLook
from records.ledger.models import Entry
from tests.conftest import NOW, Plant
from tests.factories import PIN, small_plan
from tests.records.charts.made import in_force
from tests.records.flow.made import HOUR, made_ready, moved, ran
from tests.records.freezer_runs.test_pages import text

pytestmark = pytest.mark.django_db
METALS = ("ferrous", "non-ferrous", "stainless")


def look(**changes: Any) -> dict[str, Any]:
    """At the press, now."""
    return {"form_id": uuid.uuid4(), "place": "press-1", "at": clock.now(), **changes}


def challenge(unseen: str = "", **changes: Any) -> data.ChallengeData:
    """All three pieces, seen but for one."""
    pieces = tuple(data.Piece(metal=one, size="2.0", seen=one != unseen) for one in METALS)
    return data.ChallengeData(**look(**{"when": "hourly", "pieces": pieces, "rejected": True, **changes}))


def counted(blades: int, **changes: Any) -> data.CountData:
    """Six blades are on the list."""
    return data.CountData(**look(**{"parts": (data.Part(name="blade", listed=6, counted=blades),), **changes}))


def strainer(found: str = "whole, nothing caught", **changes: Any) -> data.StrainerData:
    """The line strainer after a run."""
    return data.StrainerData(**look(**{"device": "strainer", "after": "run", "found": found, **changes}))


@pytest.fixture
def ines(plant: Plant) -> Any:
    """An operator; three runs of 20 minutes through the press: four, three and two hours before NOW."""
    by = plant.actor("ines")
    made_ready(by, NOW - 6 * HOUR)
    moved(by, started_at=NOW - 5 * HOUR)
    return by


def milk(by: Any, hours: float) -> Any:
    """A run of 20 minutes through the press that began so many hours before NOW."""
    begun = NOW - timedelta(hours=hours)
    return ran(by, started_at=begun, ended_at=begun + HOUR / 3, quantity_typed="50")


def test_a_failed_challenge_holds_what_ran_since_the_last_good_one(ines: Any) -> None:
    """Product before the good one is not held; a run between is; a repeat of the form adds nothing."""
    milk(ines, 4)
    said = challenge(at=NOW - 3 * HOUR)
    actions.record_challenge(ines, said)
    assert not Hold.objects.exists()
    later = milk(ines, 2)
    bad = challenge("stainless", at=NOW - HOUR)
    row = actions.record_challenge(ines, bad)
    assert not row.good and row.suspect_since == NOW - 3 * HOUR and "not seen: stainless steel" in row.words
    (hold,) = Hold.objects.all()
    assert hold.lot == later.target_lot and hold.since_at == later.started_at
    (deviation,) = Deviation.objects.all()
    assert deviation.since_at == NOW - 3 * HOUR and hold.deviation == deviation.number
    entries = Entry.objects.count()
    assert actions.record_challenge(ines, bad).number == row.number and Entry.objects.count() == entries
    with pytest.raises(DifferentContent):
        actions.record_challenge(ines, data.ChallengeData(**{**_values(bad), "rejected": False}))


def test_nothing_ran_since_the_last_good_challenge_so_nothing_is_held(ines: Any) -> None:
    """The failure is a deviation all the same."""
    milk(ines, 4)
    actions.record_challenge(ines, challenge(at=NOW - 3 * HOUR))
    actions.record_challenge(ines, challenge("ferrous", at=NOW - 2 * HOUR))
    assert Deviation.objects.count() == 1 and not Hold.objects.exists()


def test_an_amended_challenge_widens_the_window_of_the_next_failure(ines: Any, plant: Plant) -> None:
    """The good one was none: what ran before it is in question too. It did not happen: the same."""
    first = milk(ines, 4)
    good = actions.record_challenge(ines, challenge(at=NOW - 3 * HOUR))
    actions.record_challenge(ines, challenge("ferrous", at=NOW - 2 * HOUR))
    void = challenge(at=good.observed_at, amends=good.number, amend_reason="was yesterday's", void=True)
    with pytest.raises(Refused, match="Only"):
        actions.record_challenge(plant.actor("piet"), void)
    saved = actions.record_challenge(ines, void)
    assert saved.void and not queries.standing(DetectorChallenge.objects.filter(good=True)).exists()
    assert Hold.objects.get().lot == first.target_lot
    with pytest.raises(Refused, match="amended already"):
        actions.record_challenge(
            ines, challenge(at=good.observed_at, amends=good.number, amend_reason="again", void=True)
        )


def test_what_ran_after_a_failure_until_the_next_good_challenge_is_held(ines: Any) -> None:
    """A line that ran on is held when the next good challenge says until when."""
    actions.record_challenge(ines, challenge(at=NOW - 5 * HOUR))
    actions.record_challenge(ines, challenge("ferrous", at=NOW - 4 * HOUR))
    ran_on = milk(ines, 3)
    actions.record_challenge(ines, challenge(at=NOW - 2 * HOUR))
    assert Hold.objects.get().lot == ran_on.target_lot


def test_a_missing_part_holds_since_the_last_good_count(ines: Any) -> None:
    """Five of six blades; the list does not grow shorter in silence."""
    actions.record_count(ines, counted(6, at=NOW - 5 * HOUR))
    held = milk(ines, 4)
    row = actions.record_count(ines, counted(5, at=NOW - 3 * HOUR))
    assert "missing: blade 1" in row.words and Hold.objects.get().lot == held.target_lot
    with pytest.raises(Refused, match="The last count has these too"):
        actions.record_count(ines, counted(5, parts=(data.Part(name="seal", listed=1, counted=1),)))
    with pytest.raises(Refused, match="shorter"):
        actions.record_count(ines, counted(5, parts=(data.Part(name="blade", listed=5, counted=5),)))
    assert PartsCount.objects.count() == 2


def test_a_strainer_and_its_length(ines: Any) -> None:
    """What was caught opens a deviation; a length without a find, letters and a time to come are refused."""
    held = milk(ines, 4)
    row = actions.record_strainer(ines, strainer("something caught", length="9", hard="yes"))
    assert row.length_mm == 9 and Hold.objects.get().lot == held.target_lot
    assert DeviationCause.objects.filter(cause_kind=StrainerLook.KIND, cause_number=row.number).count() == 1
    for wrong, field in (
        ({"length": "9"}, "found"),
        ({"found": "something caught", "length": "nine"}, "length"),
        ({"found": "something caught", "length": "0"}, "length"),
        ({"at": clock.now() + HOUR}, "at"),
        ({"place": "moon"}, "place"),
    ):
        with pytest.raises(Refused) as refused:
            actions.record_strainer(ines, strainer(**wrong))
        assert refused.value.field == field


def test_a_breakage_with_product_near_holds_since_it_was_last_whole(ines: Any) -> None:
    """Found pieces do not spare it; with no product near and all found nothing is held."""
    milk(ines, 4)
    own: dict[str, Any] = {
        "material": "glass", "what": "sight glass", "spot": "above the hopper", "cleared": "2 m round, swept",
        "all_found": True, "near": True, "whole_at": NOW - 3 * HOUR,
    }  # fmt: skip
    near = milk(ines, 2)
    row = actions.record_breakage(ines, data.BreakageData(**look(**own)))
    assert not row.good and Hold.objects.get().lot == near.target_lot
    far = actions.record_breakage(ines, data.BreakageData(**look(**{**own, "near": False})))
    assert far.good and Breakage.objects.count() == 2 and Hold.objects.count() == 1


def test_the_pages(ines: Any, plant: Plant, client_for: Callable[..., Client]) -> None:
    """Recorded with what was typed kept beside a refusal, listed with what the guide says, amended, seen."""
    browser = client_for(plant.people.ines)
    address = reverse("records:foreign-matter-new", args=["strainer", "press-1"])
    page = browser.get(address)
    form = page.context["form"]
    sent = {"form_id": str(form.initial["form_id"]), "at": local_now(), "found": "something caught", "after": "run",
            "length": "1o", "hard": "yes", "note": "a shaving"}  # fmt: skip
    refused = browser.post(address, sent)
    assert refused.status_code == 422 and 'value="1o"' in text(refused) and "a shaving" in text(refused)
    assert not StrainerLook.objects.exists()
    done = text(browser.post(address, {**sent, "length": "10"}, follow=True))
    assert "Within 7 to 25 mm" in done and "not a permission" in done
    row = StrainerLook.objects.get()
    listed = text(browser.get(reverse("records:foreign-matter")))
    assert "product in question" in listed and "CPG Sec. 555.425" in listed
    amend = reverse("records:foreign-matter-amend", args=[row.number])
    again = {**sent, "form_id": str(uuid.uuid4()), "length": "6", "amend_reason": "measured with a caliper"}
    assert 'name="signer_secret"' in text(browser.get(amend))
    without = browser.post(amend, again)
    assert without.status_code == 422 and 'value="6"' in text(without) and StrainerLook.objects.count() == 1
    again |= {"signer": str(plant.people.ines.id), "signer_secret": PIN}
    assert "Shorter than 7 mm" in text(browser.post(amend, again, follow=True))
    for kind in ("magnet", "detector", "parts", "breakage"):
        assert browser.get(reverse("records:foreign-matter-new", args=[kind, "press-1"])).status_code == 200
    assert browser.get(reverse("records:foreign-matter-entry", args=[10**6])).status_code == 404


def test_an_hourly_challenge_missed_holds_since_the_last_good_one_at_its_minute(plant: Plant) -> None:
    """A run from 10 min after NOW, challenged at 15: due at 70, missed at 130, not a minute before.

    What ran since the good challenge is held, as at any critical control point (21 CFR 117.150, the plan's own hours).
    """
    plant.at(NOW)
    asked = MonitoringDef(
        "detector", "metal", ("press-1",), "Metal detector challenged", "Three pieces.", "operator",
        AnswerDef("yes_no"), FrequencyDef("during_run", every_min=60), ("detects",), corrective_action="Hold it.",
    )  # fmt: skip
    limit = LimitDef("detects", "metal detector", "plant rule", "plant rule", wanted=("yes",))
    point = ControlPointDef("metal", "Metal detector", "ccp", reaches_product=True)
    small = small_plan()
    in_force(plant, small_plan(limits=(*small.limits, limit), monitoring=(*small.monitoring, asked),
                               control_points=(*small.control_points, point)))  # fmt: skip
    watch.begin_at(NOW)
    by = plant.actor("ines")
    made_ready(by, NOW)
    minute = timedelta(minutes=1)
    plant.at(NOW + 10 * minute)
    moved(by, started_at=NOW + 5 * minute, ended_at=NOW + 9 * minute)
    run = ran(by, started_at=NOW + 10 * minute, ended_at=None, quantity_typed="", measured_by="unknown")
    plant.at(NOW + 15 * minute)
    actions.record_challenge(by, challenge())
    held = Hold.objects.filter(deviation__in=Deviation.objects.filter(control_point="metal").values("number"))
    for after in (*range(20, 130, 10), 129):
        plant.at(NOW + after * minute)
        watch.look()
    assert not held.exists()
    plant.at(NOW + 130 * minute)
    watch.look()
    deviation = Deviation.objects.get(control_point="metal")
    assert (deviation.cause, deviation.since_at) == ("missed", NOW + 15 * minute)
    assert run.target_lot in {one.lot for one in held} and all(one.since_at >= deviation.since_at for one in held)


def test_the_plans_test_pieces(plant: Plant, client_for: Callable[..., Client]) -> None:
    """The form offers the plan's sizes, not the last challenge's; a larger piece proves less and is not good."""
    plant.at(NOW)
    sizes = {"ferrous_piece_mm": "1.5", "non_ferrous_piece_mm": "2.0", "stainless_piece_mm": "2.5"}
    in_force(plant, small_plan(settings=Settings(**sizes)))
    plant.at(NOW + HOUR)
    by = plant.actor("ines")
    large = actions.record_challenge(by, challenge())
    assert not large.good and "larger than the plan's piece: ferrous 1.5 mm" in large.words
    pieces = tuple(data.Piece(metal=one, size="1.5", seen=True) for one in METALS)
    assert actions.record_challenge(by, challenge(pieces=pieces)).good
    page = text(client_for(plant.people.ines).get(reverse("records:foreign-matter-new", args=["detector", "press-1"])))
    assert all(f'value="{one}"' in page for one in sizes.values()) and "The plan: 2.5 mm." in page


def local_now() -> str:
    """This moment as the form's box has it."""
    return f"{queries_local():%Y-%m-%dT%H:%M}"


def queries_local() -> Any:
    from records.people.plans import plan_in_force

    in_force = plan_in_force(clock.now())
    assert in_force is not None
    return in_force.calendar.local(clock.now())


def _values(said: Any) -> dict[str, Any]:
    return {name: getattr(said, name) for name in type(said).__dataclass_fields__}


def test_a_look_answers_the_plans_check_in_the_same_act(plant: Plant) -> None:
    """An hourly challenge that the plan asks for: answered, judged, amended with its look; one deviation for both."""
    plant.at(NOW)
    asked = MonitoringDef(
        "detector", "pasteurizing", ("press-1",), "Metal detector challenged", "Three pieces.", "operator",
        AnswerDef("yes_no"), FrequencyDef("each_shift", at=("+01:00",)), ("detects",),
        corrective_action="Hold what ran since the last good one.",
    )  # fmt: skip
    limit = LimitDef("detects", "metal detector", "plant rule", "plant rule", wanted=("yes",))
    small = small_plan()
    in_force(plant, small_plan(limits=(*small.limits, limit), monitoring=(*small.monitoring, asked)))
    plant.at(NOW + 2 * HOUR)
    by = plant.actor("ines")
    good = actions.record_challenge(by, challenge())
    read = Reading.objects.get()
    assert good.reading == read.number and (read.monitoring_key, read.typed) == ("detector", "yes")
    said = challenge("ferrous", at=good.observed_at, amends=good.number, amend_reason="looked again")
    bad = actions.record_challenge(by, said)
    amended = Reading.objects.get(amends=read.number)
    assert bad.reading == amended.number and amended.typed == "no"
    (deviation,) = Deviation.objects.all()
    kinds = set(DeviationCause.objects.filter(deviation=deviation.number).values_list("cause_kind", flat=True))
    assert kinds == {Reading.KIND, DetectorChallenge.KIND}


def test_each_challenge_and_each_strainer_answers_the_check_of_its_own_moment(plant: Plant) -> None:
    """Start, in the run and end are three checks, and a load's strainer is not the run's; none answers another."""

    def asked(key: str, limit: str, often: FrequencyDef) -> MonitoringDef:
        return MonitoringDef(
            key, "pasteurizing", ("press-1",), key, "As the plan says.", "operator",
            AnswerDef("yes_no") if limit == "detects" else AnswerDef("choice", choices=STRAINED), often, (limit,),
            corrective_action="Hold what ran since the last good one.",
        )  # fmt: skip

    small = small_plan()
    in_force(plant, small_plan(
        limits=(
            *small.limits,
            LimitDef("detects", "metal detector", "plant rule", "plant rule", wanted=("yes",)),
            LimitDef("whole", "strainer", "plant rule", "plant rule", wanted=STRAINED[:1]),
        ),
        monitoring=(
            *small.monitoring,
            asked("at-start", "detects", FrequencyDef("run_ends", first=True)),
            asked("each-hour", "detects", FrequencyDef("during_run", every_min=60)),
            asked("at-end", "detects", FrequencyDef("run_ends", last=True)),
            asked("of-load", "whole", FrequencyDef("after_event", event="tanker", minutes=45)),
            asked("of-run", "whole", FrequencyDef("run_ends", last=True)),
        ),
    ))  # fmt: skip
    plant.at(NOW + 2 * HOUR)
    by = plant.actor("ines")
    answered = {when: actions.record_challenge(by, challenge(when=when)) for when in ("start", "hourly", "end")}
    assert [one.check_key for one in answered.values()] == ["at-start", "each-hour", "at-end"]
    after_work = actions.record_challenge(by, challenge(when="after work"))
    assert (after_work.check_key, after_work.reading) == ("", None)
    strained = [actions.record_strainer(by, strainer(after=after)).check_key for after in ("load", "run")]
    assert strained == ["of-load", "of-run"]
    last = answered["end"]
    said = {"at": last.observed_at, "amends": last.number, "amend_reason": "one was not seen"}
    with pytest.raises(Refused, match="did not happen") as moved_on:
        actions.record_challenge(by, challenge(**said, when="hourly"))
    assert moved_on.value.field == "when"
    worse = actions.record_challenge(by, challenge("ferrous", **said, when="end"))
    amended = Reading.objects.get(amends=last.reading)
    assert (worse.reading, amended.monitoring_key, amended.typed) == (amended.number, "at-end", "no")


STRAINED = ("whole, nothing caught", "something caught", "damaged")
