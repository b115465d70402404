"""Plain values for tests: a small plan of the invented plant, and whole objects with what a test changes."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from plant.hazard_plan.content import (
    AnswerDef,
    ControlPointDef,
    EquipmentDef,
    EscalationDef,
    FrequencyDef,
    HazardDef,
    InstrumentDef,
    LimitDef,
    MonitoringDef,
    Plan,
    PlantHeader,
    ProductDef,
    ReviewerDef,
    Settings,
    SetUpDef,
    ShiftDef,
    StepDef,
    TracedDef,
    VesselDef,
)

PIN = "482913"
PASSWORD = "long enough pass 1"
EVERY_DAY = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
INVENTED = "plant rule"
ZONE = "America/Chicago"


def small_plan(**changes: Any) -> Plan:
    """Quillbrook with three vessels, two shifts and one check of each common kind; `changes` replaces whole parts."""
    plan = Plan(
        title="Quillbrook, small",
        plant=PlantHeader(
            name="Quillbrook Creamery",
            time_zone=ZONE,
            rule_set="us",
            ordinance="invented for the tests",
            day_starts="05:00",
        ),
        settings=Settings(),
        shifts=(
            ShiftDef("early", "Early shift", "05:00", "13:00", EVERY_DAY),
            ShiftDef("late", "Late shift", "13:00", "21:00", EVERY_DAY),
        ),
        vessels=vessels(),
        equipment=(EquipmentDef("traps", "Insect traps", "pest control", walk_order=9, area="whole plant"),),
        instruments=instruments(),
        products=(
            ProductDef("raw-milk", "Raw milk", "raw milk", "milk", allergens=("milk",), is_sold=False),
            ProductDef("whole-milk", "Whole milk", "milk", "milk", fat_percent="3.25", allergens=("milk",)),
        ),
        steps=(
            StepDef("raw-storage", 1, "Raw storage", places=("silo-a",)),
            StepDef("pasteurizing", 2, "Pasteurizing", places=("press-1",)),
            StepDef("cold-storage", 3, "Pasteurized storage", places=("finished-1",)),
        ),
        hazards=(
            HazardDef(
                "warm-milk",
                "raw-storage",
                "biological",
                "Growth in warm milk",
                True,
                "Raw milk carries germs",
                "Cold storage",
                "raw-storage",
            ),
        ),
        control_points=control_points(),
        limits=limits(),
        monitoring=monitoring(),
        reviewers=(ReviewerDef("wren"), ReviewerDef("odile")),
        escalation=(
            EscalationDef("late", 15, "operator"),
            EscalationDef("missed", 0, "supervisor"),
            EscalationDef("deviation", 30, "supervisor"),
        ),
        set_ups=(
            SetUpDef("press-1-milk", "Milk, homogenizer running", "press-1", "161.5", ("milk",), homogenizer="running"),
        ),
        traced=traced(),
    )
    return replace(plan, **changes)


def vessels() -> tuple[VesselDef, ...]:
    """A raw silo, the pasteurizer (product passes through), a finished tank."""
    return (
        VesselDef("silo-a", "Silo A", "silo", "raw", "raw storage", 1, 1, capacity="3000"),
        VesselDef("press-1", "Press 1", "pasteurizer", "press", "line", 2, 2, holds_product=False),
        VesselDef("finished-1", "Finished 1", "tank", "pasteurized", "daily", 3, 3, capacity="800"),
    )


def instruments() -> tuple[InstrumentDef, ...]:
    """Thermometers in degrees Fahrenheit, all in calibration until 2027."""
    due = "2027-01-31"
    return (
        InstrumentDef(
            "T-04", "Silo A thermometer", "indicating thermometer", "°F", "0", "212", "0.1", "1", due, "silo-a"
        ),
        InstrumentDef(
            "T-05", "Finished 1 thermometer", "indicating thermometer", "°F", "0", "212", "0.1", "1", due, "finished-1"
        ),
        InstrumentDef(
            "T-11", "Press 1 indicating", "indicating thermometer", "°F", "0", "212", "0.1", "0.5", due, "press-1"
        ),
        InstrumentDef(
            "T-12", "Press 1 recording", "recording thermometer", "°F", "0", "212", "0.5", "1", due, "press-1"
        ),
        InstrumentDef(
            "T-20", "Silo A recorder", "recording thermometer", "°F", "0", "212", "0.1", "2", due, "silo-a"
        ),
        InstrumentDef("H-01", "Hand thermometer", "hand thermometer", "°F", "-40", "212", "0.1", "1", due),
    )


def traced() -> tuple[TracedDef, ...]:
    """The press's recorder and diversion device, each second; the silo's recorder, each minute."""
    return (
        TracedDef("T-12", "Press 1 recording", "press-1", "hold temperature", "pasteurizing", "°F", "5"),
        TracedDef("fd-press-1", "Diversion device, forward", "press-1", "forward flow", "pasteurizing", slowest_s="5"),
        TracedDef("T-20", "Silo A recorder", "silo-a", "tank temperature", "raw-storage", "°F", "60", ("cold",)),
    )


def control_points() -> tuple[ControlPointDef, ...]:
    """Two CCPs, a sanitation control and a prerequisite programme's."""
    return (
        ControlPointDef("raw-storage", "Raw milk storage", "ccp", "raw-storage", "PMO item 18r", reaches_product=True),
        ControlPointDef("pasteurizing", "Pasteurization", "ccp", "pasteurizing", "PMO item 16p", reaches_product=True),
        ControlPointDef("pre-op", "Before the first milk", "sanitation"),
        ControlPointDef("pests", "Pest places", "prerequisite"),
    )


def limits() -> tuple[LimitDef, ...]:
    """One limit of each shape: a number, a pair, a wanted answer."""
    return (
        LimitDef(
            "cold", "temperature", "plant rule, invented for the tests", INVENTED, "°F", high="45", operating_high="43"
        ),
        LimitDef(
            "hot",
            "temperature",
            "plant rule, invented for the tests",
            INVENTED,
            "°F",
            low="161",
        ),
        LimitDef("seals-whole", "seals", "plant rule, invented for the tests", INVENTED, wanted=("yes",)),
        LimitDef("no-pests", "places with a finding", "plant rule, invented for the tests", INVENTED, wanted=("ok",)),
    )


def monitoring() -> tuple[MonitoringDef, ...]:
    """A number each shift and while milk is held, a yes or no, a pair, a list of places."""
    return (
        MonitoringDef(
            "silo-shift",
            "raw-storage",
            ("silo-a",),
            "Temperature",
            "Read the indicating thermometer.",
            "operator",
            AnswerDef("number", "°F"),
            FrequencyDef("each_shift", at=("+01:00",)),
            ("cold",),
            agitator_min=5,
            recheck_min=15,
            instruments=("T-04",),
            what_es="Temperatura",
            corrective_action="Cool the milk and find the cause.",
        ),
        MonitoringDef(
            "silo-holding",
            "raw-storage",
            ("silo-a", "finished-1"),
            "Temperature",
            "Read the indicating thermometer.",
            "operator",
            AnswerDef("number", "°F"),
            FrequencyDef("while_holding", every_min=240),
            ("cold",),
            agitator_min=5,
            recheck_min=15,
            instruments=("T-04", "T-05"),
            what_es="Temperatura",
            corrective_action="Cool the milk and find the cause.",
        ),
        MonitoringDef(
            "press-seals",
            "pasteurizing",
            ("press-1",),
            "Seals unbroken",
            "Look at each seal.",
            "operator",
            AnswerDef("yes_no"),
            FrequencyDef("each_shift", at=("+00:30",)),
            ("seals-whole",),
            legal=True,
            weight="legal",
            corrective_action="Stop, divert and tell the regulator.",
        ),
        MonitoringDef(
            "press-thermometers",
            "pasteurizing",
            ("press-1",),
            "Indicating and recording thermometer",
            "Read both at the same moment.",
            "operator",
            AnswerDef("pair", "°F"),
            FrequencyDef("each_shift", at=("+02:00",)),
            ("hot",),
            instruments=("T-11", "T-12"),
            corrective_action="Stop the run; the recorder is adjusted by whoever may.",
        ),
        MonitoringDef(
            "traps",
            "pests",
            ("traps",),
            "Traps with a finding",
            "Look into each trap.",
            "operator",
            AnswerDef("places", places=tuple(str(one) for one in range(1, 21))),
            FrequencyDef("calendar", at=("09:00",), rule="FREQ=WEEKLY;BYDAY=MO", start="2026-01-05"),
            ("no-pests",),
            weight="quality",
            corrective_action="Empty the trap and tell the pest service.",
        ),
    )
