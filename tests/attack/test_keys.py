"""Keys put in each other's place, as a backup restored by hand may leave them: no wrong signature comes of it."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from plant import clock
from plant.signing.authority import Authority
from records.ledger.verify import verify
from records.people.refused import Refused
from records.review import actions as review
from records.review.models import DayClosing, SheetSignature
from tests.conftest import Plant
from tests.records.reports.made import DAY, live


@pytest.fixture
def other_keys(plant: Plant, tmp_path: Path) -> Path:
    """The keys of another installation of the same name."""
    folder = tmp_path / "other"
    Authority.create(folder, "Quillbrook Creamery", clock.now())
    return folder


def swapped(plant: Plant, keys: Path) -> None:
    """Tomas's folder under Wren's number, and hers under his."""
    tomas, wren = (keys / "people" / str(one.id) for one in (plant.people.tomas, plant.people.wren))
    shutil.move(tomas, keys / "aside")
    shutil.move(wren, tomas)
    shutil.move(keys / "aside", wren)


def only_the_key(plant: Plant, keys: Path) -> None:
    """Tomas's certificate with Wren's private key under its name."""
    tomas, wren = (keys / "people" / str(one.id) for one in (plant.people.tomas, plant.people.wren))
    theirs = next(wren.glob("*.key.pem")).read_bytes()
    next(tomas.glob("*.key.pem")).write_bytes(theirs)


@pytest.mark.parametrize("change", [swapped, only_the_key])
def test_nobody_signs_with_another_persons_key(
    plant: Plant, settings: Any, change: Callable[[Plant, Path], None]
) -> None:
    """The PDF would name one and be signed by the other: refused in words, nothing is written."""
    live(plant)
    review.close_day(plant.actor("wren"), DAY)
    change(plant, Path(settings.KEYS_DIR))
    with pytest.raises(Refused, match="are not of this person"):
        review.sign_sheet(plant.actor("tomas"), DAY, review.OPERATOR_IN_CHARGE)
    assert not SheetSignature.objects.exists()


def test_no_day_is_closed_under_a_signature_that_nobody_can_confirm(
    plant: Plant, settings: Any, other_keys: Path
) -> None:
    """plant.key.pem of another plant: such a head could never be put right, for closings are never changed."""
    live(plant)
    keys = Path(settings.KEYS_DIR)
    (keys / "plant.key.pem").write_bytes((other_keys / "plant.key.pem").read_bytes())
    with pytest.raises(Refused, match="not of one pair"):
        review.close_day(plant.actor("wren"), DAY)
    assert not DayClosing.objects.exists()


@pytest.mark.parametrize("name", ["authority.pem", "plant.pem"])
def test_certificate_that_the_ledger_never_recorded_is_named(
    plant: Plant, settings: Any, other_keys: Path, name: str
) -> None:
    """Another plant's keys beside this ledger: what they sign, the copies handed out early would not confirm."""
    assert verify().good
    (Path(settings.KEYS_DIR) / name).write_bytes((other_keys / name).read_bytes())
    (found,) = verify().found
    assert found.kind == "keys" and name in found.sentence
    (Path(settings.KEYS_DIR) / name).unlink()
    assert verify().good  # who verifies need not have the keys
