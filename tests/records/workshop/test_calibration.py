"""A calibration: its errors, its tolerance, the readings it puts in doubt, and the verdicts that turn with it."""

from __future__ import annotations

import uuid
from datetime import timedelta
from decimal import Decimal
from typing import Any

import numpy as np
import pytest

from plant.equipment.models import Instrument
from records.checks.actions import record_reading
from records.deviations.models import Hold
from records.flow.errors import DifferentContent, Refused
from records.judging.models import Verdict
from records.ledger.models import Entry
from records.workshop.actions import record_calibration
from records.workshop.data import Point
from records.workshop.models import Calibration
from tests.conftest import NOW, Plant
from tests.records.checks.made import fill_silo, silo
from tests.records.workshop.made import HOUR, calibrated, calibration

LOW = (Point(reference="40.0", found="38.8 38.8", left="40.0"),)
GOOD = (Point(reference="40.0", found="40.2 40.2"),)


def read_silo(plant: Plant, typed: str, at: Any, **changes: Any) -> int:
    """The silo read at a moment; the entry's number."""
    saved = record_reading(plant.actor("ines"), silo(typed, observed_at=at, late_reason="from the card", **changes))
    return saved.reading.number


def test_the_error_is_the_mean_reading_minus_the_reference(plant: Plant) -> None:
    """GUM, JCGM 100:2008, 4.2.3 (from memory): numpy's mean; kept away from zero where it does not end."""
    readings = ["38.8", "38.9", "38.8"]
    row = calibrated(plant, points=(Point(reference="40.0", found=" ".join(readings), left="40.0"),)).row
    assert float(row.worst_error) == pytest.approx(np.mean([float(one) for one in readings]) - 40.0, abs=1e-4)
    assert row.worst_error == Decimal("-1.1667")


@pytest.mark.parametrize(("found", "within"), [("39.0 39.0", True), ("38.9 39.0", False), ("41.0 41.0", True)])
def test_the_tolerance_itself_is_within_it(plant: Plant, found: str, within: bool) -> None:
    """One degree allowed: exactly, whatever floating point makes of it."""
    row = calibrated(plant, points=(Point(reference="40.0", found=found, left="40.0"),)).row
    assert row.within is within


def test_a_coarse_reference_proves_nothing(plant: Plant) -> None:
    """Within the tolerance, but not with the uncertainty: not proven, and that is said."""
    row = calibrated(plant, points=(Point(reference="40", found="40.9 40.9", left="40.0"),), reference_u="0.5").row
    assert (row.outcome, row.within) == ("not proven", True)


def test_as_left_within_tolerance_it_is_good_again(plant: Plant) -> None:
    """Only such a calibration ends the doubt of the next one."""
    assert calibrated(plant).row.good_after
    bad = calibrated(plant, points=(Point(reference="40", found="38.8 38.8", left="38.7"),)).row
    assert not bad.good_after
    as_is = calibrated(plant, points=LOW[:0] + (Point(reference="40", found="38.8 38.8"),), adjusted=False).row
    assert not as_is.good_after


def test_readings_since_the_last_good_calibration_are_in_doubt(plant: Plant) -> None:
    """With what they would be: 44.4 read was 45.6 and more, over the limit of 45; 41.0 stays in limits."""
    fill_silo(plant)
    calibrated(plant, at=NOW - 3 * HOUR, points=GOOD, adjusted=False)
    warm = read_silo(plant, "44.4", NOW - 2 * HOUR)
    cold = read_silo(plant, "41.0", NOW - HOUR)
    row = calibrated(plant).row
    assert row.last_good_at == NOW - 3 * HOUR
    assert [(one["reading"], one["as_read"], one["group"]) for one in row.doubted] == [
        (warm, "44.4", "now not met"),
        (cold, "41", "unchanged"),
    ]
    assert Decimal(row.doubted[0]["corrected"]) >= Decimal("45.6")


def test_readings_before_the_last_good_calibration_are_not(plant: Plant) -> None:
    """It was right then."""
    fill_silo(plant)
    read_silo(plant, "44.4", NOW - 2 * HOUR)
    calibrated(plant, at=NOW - HOUR, points=GOOD, adjusted=False)
    assert calibrated(plant).row.doubted == []


def test_a_reading_that_turns_gets_a_new_verdict_and_its_consequences(plant: Plant) -> None:
    """Judged by the one place that judges, following the old verdict; deviation and hold as from any reading."""
    fill_silo(plant)
    number = read_silo(plant, "44.4", NOW - 2 * HOUR)
    saved = calibrated(plant)
    old, new = Verdict.objects.filter(subject_number=number).order_by("number")
    assert (old.outcome, new.outcome, new.why, new.follows) == (
        "met, past the operating limit", "not met", "calibration", old.number,
    )  # fmt: skip
    assert new.reason.startswith("Judged again: the calibration of T-04 on 2026-03-03 found it off by -1.2 °F.")
    assert new.numbers["calibration"] == str(saved.row.number)
    assert [one.subject for one in saved.deviations] == ["silo-a"]
    assert Hold.objects.filter(deviation=saved.deviations[0].number).exists()


def test_a_correction_never_rescues(plant: Plant) -> None:
    """Read warm by an instrument that reads high: it stays not met."""
    fill_silo(plant)
    number = read_silo(plant, "45.6", NOW - 2 * HOUR)
    row = calibrated(plant, points=(Point(reference="40", found="41.2 41.2", left="40"),)).row
    assert [one["group"] for one in row.doubted] == ["now met"]
    assert Verdict.objects.filter(subject_number=number).count() == 1


def test_within_its_tolerance_nothing_is_in_doubt(plant: Plant) -> None:
    """What the tolerance allows, the limits were set with."""
    fill_silo(plant)
    read_silo(plant, "44.9", NOW - HOUR)
    row = calibrated(plant, points=GOOD, adjusted=False).row
    assert row.within and row.doubted == []


def test_a_calibrations_form_is_kept_once(plant: Plant) -> None:
    """With its verdicts; other content is refused."""
    fill_silo(plant)
    read_silo(plant, "44.4", NOW - 2 * HOUR)
    said = calibration()
    first, second = (record_calibration(plant.actor("piet"), said) for _ in range(2))
    assert first.row.number == second.row.number and len(second.deviations) == 1
    assert Calibration.objects.count() == 1 and Verdict.objects.filter(why="calibration").count() == 1
    with pytest.raises(DifferentContent):
        record_calibration(plant.actor("piet"), calibration(form_id=said.form_id, tester="other"))


def test_a_calibration_changes_no_instrument(plant: Plant) -> None:
    """Its correction and due date are revised by another act, signed."""
    before = Instrument.objects.get(code="T-04").correction
    calibrated(plant)
    assert Instrument.objects.get(code="T-04").correction == before


@pytest.mark.parametrize(
    ("field", "changes"),
    [
        ("instrument", {"instrument": "T-99"}),
        ("reference_1", {"points": ()}),
        ("reference_1", {"points": (Point(reference="", found="40"),)}),
        ("found_1", {"points": (Point(reference="40", found=""),)}),
        ("found_1", {"points": (Point(reference="40", found="40.0", left="40"),)}),  # one reading shows no scatter
        ("found_1", {"points": (Point(reference="40", found="400 400"),)}),
        ("found_2", {"points": (Point(reference="", found=""), Point(reference="40", found="x y"))}),
        ("left_1", {"points": (Point(reference="40", found="40 40"),)}),
        ("reference_u", {"reference_u": "-1"}),
        ("reference_u", {"reference_u": ""}),
        ("reference", {"reference": ""}),
        ("tester", {"tester": ""}),
        ("at", {"at": NOW + timedelta(hours=1)}),
    ],
)
def test_a_calibration_that_makes_no_sense_is_refused(plant: Plant, field: str, changes: dict[str, Any]) -> None:
    """Beside its field; nothing is written."""
    before = Entry.objects.count()
    with pytest.raises(Refused) as refused:
        calibrated(plant, form_id=uuid.uuid4(), **changes)
    assert refused.value.field == field and Entry.objects.count() == before
