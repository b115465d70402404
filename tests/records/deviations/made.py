"""What the tests of deviations make: a warm silo and everything that leads to a closing."""

from __future__ import annotations

import uuid
from datetime import timedelta
from typing import Any

from plant import clock
from records.checks.actions import Saved, record_reading
from records.checks.entry import ReadingData
from records.deviations import holds, queries
from records.deviations.actions import write_part
from records.deviations.models import Deviation, Disposition, Hold
from tests.conftest import Plant
from tests.factories import PASSWORD, PIN
from tests.kept import acted_once
from tests.records.flow.made import made_ready, moved

SCRIPT = "<script>alert('milk')</script>"
SIGNED_WREN = {"signer": "wren", "signer_secret": PASSWORD}
SIGNED_ODILE = {"signer": "odile", "signer_secret": PASSWORD}


def signed_by(plant: Plant, name: str) -> dict[str, str]:
    """The two components of an operator on the tablet, or of somebody with a password."""
    if name in ("ines", "tomas"):
        return {"signer": str(getattr(plant.people, name).id), "signer_secret": PIN}
    return {"signer": name, "signer_secret": PASSWORD}


@acted_once
def filled(plant: Plant) -> None:
    """Milk in a silo that was washed and sanitized before."""
    began = clock.now() - timedelta(hours=2)
    made_ready(plant.actor("ines"), began)
    moved(plant.actor("ines"), started_at=began, quantity_typed="2000")


def read(plant: Plant, typed: str, who: str = "ines", **changes: Any) -> Saved:
    """A reading of the silo, agitator and bulb answered yes."""
    values: dict[str, Any] = {
        "form_id": uuid.uuid4(),
        "subject": "silo-a",
        "monitoring_key": "silo-shift",
        "typed": typed,
        "agitator_ran": True,
        "bulb_covered": True,
        **changes,
    }
    return record_reading(plant.actor(who), ReadingData(**values))


@acted_once
def warm(plant: Plant, typed: str = "46.4") -> Deviation:
    """The deviation of a silo read out of limits by Ines."""
    filled(plant)
    found = read(plant, typed).deviation
    assert found is not None
    return found


def answered(plant: Plant, deviation: Deviation) -> None:
    """Every part that is wanted, written by Ines."""
    for part in queries.parts_wanted(deviation):
        write_part(plant.actor("ines"), deviation, part, f"{part} done", uuid.uuid4())


def the_hold(deviation: Deviation) -> Hold:
    """The deviation's hold."""
    return Hold.objects.get(deviation=deviation.number)


def disposed(plant: Plant, hold: Hold, what: str = "release") -> Disposition:
    """Proposed by Wren, signed by Odile."""
    said = holds.propose_disposition(plant.actor("wren"), hold, what, "Cooled within the hour.")
    holds.sign_disposition(plant.actor("odile"), said)
    return said


def complete(plant: Plant) -> Deviation:
    """A deviation with nothing missing."""
    found = warm(plant)
    answered(plant, found)
    disposed(plant, the_hold(found))
    return found
