"""What the invented plant's regulator tested and sealed before the first day: each set-up of the press, its seals."""

from __future__ import annotations

from plant import clock
from records.demo.hand import form_id
from records.demo.staff import Crew
from records.people.plans import InForce
from records.workshop.actions import record_holding, record_seal
from records.workshop.data import HoldingData, SealData

HOLDS = ("26.1", ("26.1", "26.3", "26.2"))  # seconds, by salt in water: all three set-ups have one tube in the demo
SEALS = (("timing pump", "Q-1107"), ("diversion device", "Q-1108"), ("recorder", "Q-1109"))
TESTER = "the state's inspector"


def tested(crew: Crew, in_force: InForce) -> None:
    """The holding time of each set-up, then a seal at each place that the rules name."""
    by, now = crew.actor("piet"), clock.now()
    for one in in_force.plan.set_ups:
        record_holding(
            by,
            HoldingData(
                form_id=form_id("holding", one.key),
                place=one.press,
                at=now,
                set_up=one.key,
                seconds=HOLDS[0],
                tries=HOLDS[1],
                medium="water",
                homogenizer=one.homogenizer,
                by_regulator=True,
                tester=TESTER,
            ),
        )
    for place, number in SEALS:
        record_seal(
            by,
            SealData(
                form_id=form_id("seal", place),
                place="press-1",
                at=now,
                seal_place=place,
                what="applied",
                number=number,
                sealed_by=TESTER,
                by_regulator=True,
            ),
        )
