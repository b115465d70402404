"""A plant unlike Quillbrook, °C, one tank, one night shift across midnight, Spanish names, closed on Mondays, goes from
a written plan to a signed sheet by the same code."""

from __future__ import annotations

import uuid
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from django.core.management import call_command

from plant import clock
from plant.hazard_plan.models import PlanVersion
from plant.people.models import Person
from records.checks import queries as checks
from records.checks import watch
from records.checks.actions import record_reading
from records.checks.entry import ReadingData
from records.flow.actions import record_wash
from records.flow.data import MovementData, WashData
from records.ledger import files
from records.people import actions as people_actions
from records.people.plan_actions import OWNER_SIGNS, QUALIFIED_SIGNS, sign_plan
from records.review import actions, queries
from tests.conftest import SetClock, actor_of
from tests.factories import PASSWORD, PIN
from tests.pdf_tools import pdfsig_report
from tests.records.receiving.made import brought

WRITTEN = Path(__file__).resolve().parents[1] / "plans" / "valle_hondo.toml"
# Tuesday 3 March 2026: the plant day runs from 21:00 in Madrid (20:00 UTC) to 21:00 on Wednesday.
DAY = date(2026, 3, 3)
EVENING = datetime(2026, 3, 3, 20, 0, tzinfo=UTC)


@pytest.fixture
def crew(db: None, quick_keys: None, set_clock: SetClock) -> dict[str, Person]:
    """The second plant installed, staffed and its plan approved, the day before."""
    set_clock.at(EVENING - timedelta(days=1))
    people_actions.begin_installation("Lechería Valle Hondo", invented=True)

    def add(sign_in: str, name: str, initials: str, role: str) -> Person:
        return people_actions.add_person(
            people_actions.INSTALLER, sign_in, name, initials, f"{sign_in}@valle.example", "es", [role], PASSWORD, PIN
        )

    crew = {
        "nuria": add("nuria", "Nuria Sotomonte", "NS", "operator"),
        "pablo": add("pablo", "Pablo Riofrío", "PR", "supervisor"),
        "marina": add("marina", "Marina Valdeolmos", "MV", "qualified individual"),
        "elena": add("elena", "Elena Valle", "EV", "owner"),
    }
    call_command("load_plan", str(WRITTEN), verbosity=0)
    version = PlanVersion.objects.get()
    sign_plan(actor_of(crew["marina"], "qualified individual"), version, QUALIFIED_SIGNS)
    sign_plan(actor_of(crew["elena"], "owner"), version, OWNER_SIGNS)
    set_clock.at(EVENING)
    watch.begin_at(EVENING)
    return crew


def answer_all(crew: dict[str, Person], typed: str) -> int:
    """Nuria answers whatever is due now."""
    done = 0
    for check in checks.round_at(clock.now()):
        kind = check.monitoring.answer.kind
        data = ReadingData(
            form_id=uuid.uuid4(),
            subject=check.due.subject,
            monitoring_key=check.due.key,
            event=check.due.event,
            due_at=check.due.due_at,
            typed=typed if kind == "number" else "yes",
        )
        record_reading(actor_of(crew["nuria"], "operator"), data)
        done += 1
    return done


def wash_and_fill(crew: dict[str, Person]) -> None:
    """The tank washed and sanitized, then 1 200 L from the plant's own parlor at 21:40."""
    nuria = actor_of(crew["nuria"], "operator")
    for what, minutes in (("washed", 0), ("sanitized", 15)):
        start = EVENING + timedelta(minutes=minutes)
        record_wash(
            nuria,
            WashData(
                form_id=uuid.uuid4(),
                what=what,
                vessel="tanque",  # type: ignore[arg-type]
                started_at=start,
                ended_at=start + timedelta(minutes=10),
                method="a mano",
            ),
        )
    brought(
        nuria,
        MovementData(
            form_id=uuid.uuid4(),
            source="",
            source_name="Sala de ordeño",
            target="tanque",
            product="leche-cruda",
            started_at=EVENING + timedelta(minutes=40),
            ended_at=EVENING + timedelta(minutes=60),
            quantity_typed="1200",
            unit="L",
            measured_by="level",
        ),
    )


def run_the_night(crew: dict[str, Person], set_clock: SetClock) -> list[str]:
    """The night in steps of ten minutes: the watch looks, Nuria answers; gives the outcomes of the tank's readings."""
    filled = False
    for step in range(9 * 6):
        set_clock.at(EVENING + timedelta(minutes=10 * step))
        if step == 6 and not filled:
            wash_and_fill(crew)
            filled = True
        watch.look()
        answer_all(crew, "4,5" if step < 30 else "3,8")


def test_the_second_plant_reaches_a_signed_sheet(crew: dict[str, Person], set_clock: SetClock, tmp_path: Path) -> None:
    """load_plan, two signatures, a night in °C with decimal commas, closing, both signatures; pdfsig agrees."""
    run_the_night(crew, set_clock)
    set_clock.at(EVENING + timedelta(hours=9))
    pablo, nuria = actor_of(crew["pablo"], "supervisor"), actor_of(crew["nuria"], "operator")
    actions.name_in_charge(pablo, DAY, "noche", crew["nuria"])
    actions.close_day(pablo, DAY)
    actions.sign_sheet(nuria, DAY, actions.OPERATOR_IN_CHARGE)
    actions.sign_sheet(pablo, DAY, actions.SUPERVISOR)
    state = queries.newest_state(DAY, 1)
    assert state is not None and state.state == "signed, supervisor"
    path = tmp_path / "sheet.pdf"
    path.write_bytes(files.read(state.sha256))
    from records.people.keys import authority

    reports = pdfsig_report(path, authority().root_pem)
    assert [(one["valid"], one["trusted"]) for one in reports] == [(True, True)] * 2


def test_mondays_make_nothing_due_at_the_second_plant(crew: dict[str, Person], set_clock: SetClock) -> None:
    """Monday 9 March is closed and the tank is empty: no check is due in that plant day."""
    start = datetime(2026, 3, 9, 20, 0, tzinfo=UTC)
    assert checks.due_between(start, start + timedelta(days=1), start) == []


def test_its_limits_are_judged_in_its_own_unit(crew: dict[str, Person], set_clock: SetClock) -> None:
    """6,0 °C is met past the operating limit, 6,1 °C is not met: typed with a decimal comma."""
    set_clock.at(EVENING + timedelta(minutes=70))
    wash_and_fill(crew)
    nuria = actor_of(crew["nuria"], "operator")
    outcomes = []
    for typed in ("4,0", "6,0", "6,1"):
        data = ReadingData(form_id=uuid.uuid4(), subject="tanque", monitoring_key="temperatura", typed=typed)
        saved = record_reading(nuria, data)
        assert saved.verdict is not None
        outcomes.append(saved.verdict.outcome)
    assert outcomes == ["met", "met, past the operating limit", "not met"]
