"""Raw milk of the second plant sampled and counted through the pages: rolling geometric means by the day of sampling.

Regulation (EC) No 853/2004, Annex III, Section IX, Chapter I, Part III (as plant/rules/eu.toml has it, R76): plate
count at 30 °C at most 100,000 per mL as a rolling geometric mean over two months with two samples a month or more;
somatic cells at most 400,000 over three months with one sample a month or more. The means are scipy.stats.gmean's.
"""

from __future__ import annotations

import uuid
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from dateutil.relativedelta import relativedelta
from django.test import Client
from django.urls import reverse
from scipy.stats import gmean

from plant.people.models import Person
from records.deviations.models import Deviation
from records.judging.models import Verdict
from records.judging.queries import all_verdicts, governing
from records.laboratory.actions import take
from records.laboratory.data import SampleData
from records.laboratory.models import LabResult, Sample
from records.people.plans import plan_in_force
from tests.conftest import SetClock, actor_of, signed_in
from tests.whole.test_second_plant import EVENING, crew, wash_and_fill  # noqa: F401 crew is a fixture

DAY = timedelta(days=1)
FILLED = EVENING + timedelta(hours=2)  # the tank holds raw milk from then on
PLATE, CELLS = 100_000, 400_000


@pytest.fixture
def browser(crew: dict[str, Person], set_clock: SetClock) -> Client:  # noqa: F811
    """Pablo's browser in a plant whose tank holds raw milk."""
    set_clock.at(FILLED)
    wash_and_fill(crew)
    nobodys: Any = None  # a supervisor signs in away from tablets
    return signed_in(crew["pablo"], nobodys)


def typed(moment: datetime) -> str:
    """A moment on Madrid's clocks, as a page's field has it."""
    there = plan_in_force(moment)
    assert there is not None
    return there.calendar.local(moment).strftime("%Y-%m-%dT%H:%M")


def sampled(client: Client, at: datetime, test: str) -> Sample:
    """A bottle filled at the tank, by the form."""
    code = f"L {at:%m%d} {test}"
    answer = client.post(reverse("records:sample-new"), {
        "form_id": str(uuid.uuid4()), "code": code, "kind": "vessel", "place": "tanque", "tests": [test],
        "taken_at": typed(at), "sent_to": "laboratorio comarcal",
    })  # fmt: skip
    assert answer.status_code == 302, answer.content.decode()
    return Sample.objects.get(code=code)


def counted(client: Client, sample: Sample, test: str, number: str, read: datetime, **changes: str) -> LabResult:
    """Its result, by the form, or as amended."""
    old = changes.pop("old", "")
    path = reverse("records:sample-result-amend", args=[old]) if old else reverse(
        "records:sample-result", args=[sample.number]
    )  # fmt: skip
    answer = client.post(path, {
        "form_id": str(uuid.uuid4()), "test": test, "typed": number, "read_at": typed(read),
        "laboratory": "laboratorio comarcal", **changes,
    })  # fmt: skip
    assert answer.status_code == 302, answer.content.decode()
    return LabResult.objects.filter(sample=sample.number, test=test).order_by("-number")[0]


def outcome(row: LabResult) -> str:
    """By the verdict that governs."""
    return governing(LabResult.KIND, [row.number])[row.number].outcome


def days(count: int, each: int) -> list[datetime]:
    """So many days of sampling, `each` days apart, from the day that the tank was filled."""
    return [FILLED + each * at * DAY for at in range(count)]


def asked_for(taken: list[datetime], numbers: list[int], limit: int, months: int, each: int) -> tuple[str, float]:
    """What the regulation says of the last of these, and the mean of its months by scipy."""
    last = taken[-1]
    ends = [last - relativedelta(months=one) for one in range(months + 1)]
    window = [number for at, number in zip(taken, numbers, strict=True) if at > ends[-1]]
    mean = float(gmean(window))
    if mean > limit * (1 + 1e-9):
        return "not met", mean
    many = [sum(start < at <= end for at in taken) for end, start in zip(ends, ends[1:], strict=False)]
    return ("met" if min(many) >= each else "not proven"), mean


@pytest.mark.parametrize(
    ("test", "limit", "apart", "months", "each", "numbers", "outcomes"),
    [
        (
            "bacteria", PLATE, 14, 2, 2, [90_000, 100_000, 110_000, 130_000, 80_000, 20_000, 200_000],
            {"met", "not met", "not proven"},
        ),
        ("somatic cells", CELLS, 28, 3, 1, [350_000, 380_000, 420_000, 640_000, 150_000],
         {"met", "not met", "not proven"}),
    ],
)  # fmt: skip
def test_the_verdict_turns_where_the_mean_of_scipy_does(
    browser: Client, set_clock: SetClock, test: str, limit: int, apart: int, months: int, each: int,
    numbers: list[int], outcomes: set[str],
) -> None:  # fmt: skip
    """Each sample counted a week after it was taken; each verdict is the one that the regulation gives its months."""
    taken = days(len(numbers), apart)
    found = []
    for place, (at, number) in enumerate(zip(taken, numbers, strict=True), 1):
        set_clock.at(at + 7 * DAY)
        row = counted(browser, sampled(browser, at, test), test, str(number), at + 7 * DAY)
        asked, mean = asked_for(taken[:place], numbers[:place], limit, months, each)
        verdict = governing(LabResult.KIND, [row.number])[row.number]
        found.append(verdict.outcome)
        assert verdict.outcome == asked, (place, mean, verdict.reason)
        assert f"{mean:.0f}" in verdict.reason and "853/2004" in verdict.clause
    assert set(found) == outcomes, found
    page = browser.get(reverse("records:sample", args=[row.sample])).content.decode()
    assert f"{mean:.0f}" in page and "la media móvil cuentan las muestras de este libro" in page


def test_a_late_result_stands_where_its_sample_stands_and_judges_what_was_sampled_after_it(
    browser: Client, set_clock: SetClock
) -> None:
    """The first of five samples comes in last: the means that it is in are judged again, the one past it is not."""
    taken = days(6, 14)
    set_clock.at(taken[-1] + DAY)
    first = sampled(browser, taken[0], "bacteria")
    rows = [
        counted(browser, sampled(browser, at, "bacteria"), "bacteria", "90000", at + DAY) for at in taken[1:]
    ]  # fmt: skip
    before = [outcome(one) for one in rows]
    assert "not met" not in before and before[-1] == "met" and not Deviation.objects.exists()
    late = counted(browser, first, "bacteria", "900000", taken[-1] + DAY)
    window = [900_000, *[90_000] * 4]
    assert gmean(window) > PLATE and outcome(late) == "not met"
    within = [one for one, at in zip(rows, taken[1:], strict=True) if at - relativedelta(months=2) < taken[0]]
    past = [one for one in rows if one not in within]
    assert len(within) >= 3 and past
    for count, one in enumerate(within, 2):
        told = all_verdicts(LabResult.KIND, [one.number])[one.number]
        mean = gmean([900_000, *[90_000] * (count - 1)])
        assert told[-1].outcome == "not met" and f"{mean:.0f}" in told[-1].reason
        assert (told[-1].why, told[-1].follows) == ("another result", told[-2].number)
    assert [outcome(one) for one in past] == ["met"] * len(past)
    assert Deviation.objects.filter(cause="not met").exists()


def test_an_amended_and_a_voided_count_judge_the_later_means_again(browser: Client, set_clock: SetClock) -> None:
    """A slip of the finger in the first count is put right: the later ones are judged again, and nothing closes."""
    taken = days(5, 14)
    set_clock.at(taken[-1] + DAY)
    samples = [sampled(browser, at, "bacteria") for at in taken]
    wrong, *rows = [
        counted(browser, one, "bacteria", text, taken[-1] + DAY)
        for one, text in zip(samples, ("9000000", *["90000"] * 4), strict=True)
    ]
    assert outcome(rows[-1]) == "not met"
    there = Deviation.objects.count()
    right = counted(browser, samples[0], "bacteria", "90000", taken[-1] + DAY, old=str(wrong.number),
                    amend_reason="un cero de más")  # fmt: skip
    assert outcome(rows[-1]) == "met" and outcome(right) != "not met" and Deviation.objects.count() == there
    number = Verdict.objects.count()
    counted(browser, samples[0], "bacteria", "90000", taken[-1] + DAY, old=str(right.number),
            amend_reason="no fue de este tanque", void="on")  # fmt: skip
    assert outcome(rows[-1]) == "not proven" and Verdict.objects.count() > number


def test_other_tests_in_between_push_no_count_out_of_its_months(browser: Client, set_clock: SetClock) -> None:
    """Seventy residue samples of the same milk between two counts: the mean still has them all."""
    taken = days(4, 14)
    set_clock.at(taken[-1] + DAY)
    samples = [sampled(browser, at, "bacteria") for at in taken]
    by = actor_of(Person.objects.get(sign_in="pablo"), "supervisor")
    for one in range(70):
        take(by, SampleData(form_id=uuid.uuid4(), code=f"R {one}", kind="vessel", place="tanque",
                            taken_at=taken[-1] - one * DAY / 100, tests=("antibiotic",)))  # fmt: skip
    for one, text in zip(samples, ("90000", "90000", "90000", "150000"), strict=True):
        row = counted(browser, one, "bacteria", text, taken[-1] + DAY)
    assert f"{gmean([90_000] * 3 + [150_000]):.0f}" in governing(LabResult.KIND, [row.number])[row.number].reason
    assert row.observed_at.tzinfo is not None and row.observed_at.astimezone(UTC) > taken[-1]
