"""What the tests of the workshop make: a work, a test, a seal act, a notice, with what a test changes."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any

from plant import clock
from records.people.plans import InForce, plan_in_force
from records.workshop.actions import (
    record_calibration,
    record_holding,
    record_notice,
    record_seal,
    record_test,
    record_work,
)
from records.workshop.calibrating import CalibrationSaved
from records.workshop.data import (
    CalibrationData,
    HoldingData,
    NoticeData,
    Point,
    SealData,
    TestData,
    WorkData,
)
from records.workshop.models import EquipmentTest, RegulatorNotice, WorkDone
from records.workshop.sealing import SealSaved
from records.workshop.testing import HoldingSaved
from tests.conftest import Plant
from tests.kept import acted_once

HOUR = timedelta(hours=1)
PLACES = ("timing pump", "diversion device", "recorder")
NUMBERED = ("1", "2", "3", "4", "5.1", "7", "8", "9", "10")


def in_force() -> InForce:
    """The plan of this moment."""
    found = plan_in_force(clock.now())
    assert found is not None
    return found


def work(**changes: Any) -> WorkData:
    """An hour's work on the timing pump that ended now: nothing opened, no seal touched."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(),
        "place": "press-1",
        "part": "timing pump",
        "what": "belt changed",
        "worker": "Piet Lomax",
        "at": clock.now(),
        "opened": False,
    }
    values["started_at"] = changes.get("at", values["at"]) - HOUR
    return WorkData(**{**values, **changes})


def worked(plant: Plant, **changes: Any) -> WorkDone:
    """A work, recorded by the maintenance person."""
    return record_work(plant.actor("piet"), work(**changes))


def holding(**changes: Any) -> HoldingData:
    """The milk set-up tested with water now by the regulator: 16.2 s, two tries, both at least that."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(),
        "place": "press-1",
        "at": clock.now(),
        "set_up": "press-1-milk",
        "seconds": "16.2",
        "tries": ("16.2", "16.4"),
        "medium": "water",
        "homogenizer": "running",
        "by_regulator": True,
        "tester": "state inspector",
    }
    return HoldingData(**{**values, **changes})


def held(plant: Plant, **changes: Any) -> HoldingSaved:
    """A holding-time test, recorded."""
    return record_holding(plant.actor("piet"), holding(**changes))


def numbered(**changes: Any) -> TestData:
    """Test 1 met now."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(),
        "place": "press-1",
        "at": clock.now(),
        "test": "1",
        "results": "161.2, 161.3 °F",
        "met": True,
        "by_regulator": True,
        "tester": "state inspector",
    }
    return TestData(**{**values, **changes})


def equipment_tested(plant: Plant, **changes: Any) -> EquipmentTest:
    """A numbered test, recorded."""
    return record_test(plant.actor("piet"), numbered(**changes)).row


def seal(**changes: Any) -> SealData:
    """The seal at the timing pump seen whole now."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(),
        "place": "press-1",
        "at": clock.now(),
        "seal_place": "timing pump",
        "what": "seen whole",
        "number": "114",
    }
    return SealData(**{**values, **changes})


def sealed(plant: Plant, who: str = "piet", **changes: Any) -> SealSaved:
    """An act on a seal, recorded."""
    return record_seal(plant.actor(who), seal(**changes))


def notice(subject_number: int, **changes: Any) -> NoticeData:
    """The regulator told by telephone now."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(),
        "place": "press-1",
        "at": clock.now(),
        "subject_kind": "seal act",
        "subject_number": subject_number,
        "what": "told",
        "told_by": "Wren Castell",
        "told_whom": "the dairy inspector on call",
        "how": "telephone",
        "answer": "",
    }
    return NoticeData(**{**values, **changes})


def told(plant: Plant, subject_number: int, **changes: Any) -> RegulatorNotice:
    """A notice, recorded."""
    return record_notice(plant.actor("wren"), notice(subject_number, **changes))


@acted_once
def all_in_order(plant: Plant, at: datetime) -> None:
    """Every seal set, every numbered test met and the holding time tested, at a moment."""
    for place in PLACES:
        setting = {"what": "applied", "number": f"{place}-1", "sealed_by": "state inspector", "by_regulator": True}
        sealed(plant, seal_place=place, at=at, **setting)
    for number in NUMBERED:
        equipment_tested(plant, test=number, at=at)
    held(plant, at=at)


def calibration(**changes: Any) -> CalibrationData:
    """Silo A's thermometer (tolerance 1 °F) in a bath of 40.0 °F now: it reads 38.8, 1.2 °F low, and was adjusted."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(),
        "place": "silo-a",
        "at": clock.now(),
        "instrument": "T-04",
        "points": (Point(reference="40.0", found="38.8 38.8", left="40.0"),),
        "reference": "reference thermometer R-1, certificate of January",
        "reference_u": "0.1",
        "tester": "Piet Lomax",
        "adjusted": True,
    }
    return CalibrationData(**{**values, **changes})


def calibrated(plant: Plant, **changes: Any) -> CalibrationSaved:
    """A calibration, recorded."""
    return record_calibration(plant.actor("piet"), calibration(**changes))
