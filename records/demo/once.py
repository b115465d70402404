"""`manage.py demo --once`: the signed sheets into the folder, the ledger verified, one line each."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path

from records.demo.building import State
from records.ledger import files
from records.ledger.verify import Report, verify
from records.people.keys import authority
from records.review import queries

SIGNED = "signed, supervisor"


def hand_out(state: State, out: Path, say: Callable[[str], None]) -> bool:
    """Put each day's signed sheet and the certificate of the plant's authority there; True when the ledger verifies.

    A sheet that lies there already is left when it has the bytes that the ledger names, and put right when not.
    """
    for plant_day in state.days:
        path = out / f"day-sheet-{plant_day.isoformat()}.pdf"
        data = sheet(plant_day)
        if not path.is_file() or path.read_bytes() != data:
            path.write_bytes(data)
        signers = ", ".join(one.by_name for one in queries.signatures(plant_day, 1).values())
        say(f"{path}: {len(data) // 1024} kB, signed by {signers}")
    root = out / "authority.pem"
    root.write_text(authority().root_pem, encoding="ascii")
    say(f"{root}: to check the signatures with")
    return report(verify(), say)


def sheet(plant_day: date) -> bytes:
    """The day's sheet with both signatures."""
    closing = queries.closing(plant_day)
    state = queries.newest_state(plant_day, closing.revision) if closing else None
    if state is None or state.state != SIGNED:
        raise LookupError(f"the day sheet of {plant_day} has not both signatures")
    return files.read(state.sha256)


def report(found: Report, say: Callable[[str], None]) -> bool:
    """The ledger in one line; what differs, a line each."""
    for one in found.found:
        say(f"ledger: DIFFERS  {one.sentence}")
    result = "everything fits" if found.good else "NOT as it was recorded"
    say(f"ledger: {found.count} entries, {found.days} closed days, head {found.head}: {result}")
    return found.good
