"""Who is in charge, signed rounds, hand-overs, the day closed and its sheet signed, by the actions of the pages."""

from __future__ import annotations

from datetime import timedelta

from plant import clock
from records.checks.actions import sign_round, unsigned_readings
from records.demo.acts import Day
from records.demo.doing import Stage
from records.demo.hand import form_id
from records.review import actions

IN_CHARGE = {"morning": "ines", "evening": "tomas"}
BACK = timedelta(hours=14)


def name_in_charge(stage: Stage, day: Day) -> None:
    """The supervisor names the operator in charge of each shift."""
    for shift, sign_in in IN_CHARGE.items():
        actions.name_in_charge(stage.crew.actor("wren"), stage.plant_day, shift, stage.crew.people[sign_in])


def sign_rounds(stage: Stage, day: Day) -> None:
    """Everybody who read something signs it at the end of the shift."""
    now = clock.now()
    shift = "morning" if stage.operator == "ines" else "evening"
    for sign_in in ("ines", "tomas", "piet", "odile"):
        by = stage.crew.actor(sign_in)
        unsigned = unsigned_readings(by.person_id, now - BACK)
        if unsigned:
            began = min(one.received_at for one in unsigned)
            sign_round(by, shift, stage.plant_day, began)
            stage.hand.on(10)


def morning_leaves(stage: Stage, day: Day) -> None:
    """The morning's half of the hand-over."""
    _hand_over(stage, "ines", "morning", "leaving", day.morning_notes)


def evening_takes(stage: Stage, day: Day) -> None:
    """The evening takes over."""
    _hand_over(stage, "tomas", "morning", "taking", "")


def evening_leaves(stage: Stage, day: Day) -> None:
    """The evening's half: nobody takes over at night."""
    _hand_over(stage, "tomas", "evening", "leaving", day.evening_notes)


def _hand_over(stage: Stage, sign_in: str, shift: str, side: str, notes: str) -> None:
    form = form_id("hand-over", stage.plant_day, shift, side)
    actions.hand_over(stage.crew.actor(sign_in), stage.plant_day, shift, side, notes, form)


def close(stage: Stage, day: Day) -> None:
    """The supervisor closes the day."""
    actions.close_day(stage.crew.actor("wren"), stage.plant_day)


def operator_signs(stage: Stage, day: Day) -> None:
    """The operator in charge of the last shift signs the sheet."""
    actions.sign_sheet(stage.crew.actor("tomas"), stage.plant_day, actions.OPERATOR_IN_CHARGE)


def supervisor_signs(stage: Stage, day: Day) -> None:
    """The supervisor has reviewed the day's records."""
    actions.sign_sheet(stage.crew.actor("wren"), stage.plant_day, actions.SUPERVISOR)
