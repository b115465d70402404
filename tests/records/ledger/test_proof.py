"""One record can be checked by a stranger: a file, a certificate, a script that knows nothing of us."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from plant.signing.check_record import check
from records.ledger import merkle, tree
from records.ledger.models import Entry
from records.ledger.proof import NoProof, proof_of
from records.people.keys import authority
from tests.records.ledger.closing import close
from tests.records.ledger.conftest import append, triggers_away
from tests.records.ledger.scratch import ROOT


@pytest.fixture
def closed(installed: Any) -> list[Any]:
    """Two closed days, and a record after them."""
    days = []
    for day in range(2):
        append(3, first=100 * (day + 1))
        days.append(close(day))
    append(1, first=900)
    return days


def test_the_stranger_accepts_every_record_under_the_head(closed: list[Any], tmp_path: Path) -> None:
    """plant/signing/check_record.py, run alone, ends with 0 for each."""
    certificate = tmp_path / "plant.pem"
    certificate.write_text(authority().plant_certificate_pem)
    script = ROOT / "plant" / "signing" / "check_record.py"
    for number in (1, closed[0].number, closed[1].tree_size):
        file = tmp_path / f"{number}.json"
        call_command("proof", str(number), "--out", str(file))
        done = subprocess.run(
            [sys.executable, "-I", str(script), str(file), "--certificate", str(certificate)],
            cwd=tmp_path, capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stdout + done.stderr
        assert Entry.objects.get(number=number).content in done.stdout


def test_the_newest_head_is_used(closed: list[Any]) -> None:
    """A record of the first day is proven by the second day's head."""
    proof = proof_of(1)
    assert proof["tree_size"] == closed[1].tree_size and proof["root"] == closed[1].root


@pytest.mark.parametrize("name", ["content", "leaf_hash", "entry", "tree_size", "root", "path", "plant"])
def test_the_stranger_refuses_an_altered_proof(closed: list[Any], name: str) -> None:
    """Each part of the file, altered in turn."""
    proof = proof_of(2)
    changed: dict[str, Any] = {
        "content": proof["content"].replace("a", "b", 1),
        "leaf_hash": "00" * 32,
        "entry": 3,
        "tree_size": proof["tree_size"] - 1,
        "root": "00" * 32,
        "path": proof["path"][::-1],
        "plant": "Another Creamery",
    }
    assert all(line.holds is not False for line in check(proof, authority().plant_certificate_pem))
    altered = {**proof, name: changed[name]}
    assert any(line.holds is False for line in check(altered, authority().plant_certificate_pem))


def test_two_heads_are_linked(closed: list[Any]) -> None:
    """With the size of the head that somebody holds, the proof shows that the ledger only grew since."""
    first, second = closed
    link = proof_of(1, since=first.tree_size)["consistency"]
    merkle.verify_consistency(
        first.tree_size,
        second.tree_size,
        bytes.fromhex(first.root),
        bytes.fromhex(second.root),
        [bytes.fromhex(one) for one in link["path"]],
    )
    assert all(line.holds is not False for line in check(proof_of(1, since=first.tree_size)))


def test_a_record_after_the_last_head_says_close_the_day_first(closed: list[Any]) -> None:
    """No signed head covers it yet."""
    with pytest.raises(NoProof, match="close the day first"):
        proof_of(tree.size())


def test_a_ledger_without_a_closed_day_has_no_proof(installed: Any) -> None:
    """The same sentence."""
    with pytest.raises(NoProof, match="close the day first"):
        proof_of(1)


@pytest.mark.parametrize("number", [0, -1, 100_000])
def test_an_entry_that_is_not_there_is_named(closed: list[Any], number: int) -> None:
    """With the number of the last one."""
    with pytest.raises(NoProof, match=f"no entry {number}; the last one is {tree.size()}"):
        proof_of(number)


@pytest.mark.parametrize("since", [0, 100_000])
def test_a_link_from_nowhere_is_refused(closed: list[Any], since: int) -> None:
    """The other head must lie before the newest."""
    with pytest.raises(NoProof, match="No link"):
        proof_of(1, since=since)


def test_the_command_overwrites_nothing(closed: list[Any], tmp_path: Path) -> None:
    """A file that exists stays."""
    file = tmp_path / "proof.json"
    file.write_text("mine")
    with pytest.raises(CommandError, match="exists"):
        call_command("proof", "1", "--out", str(file))
    assert file.read_text() == "mine"
    with pytest.raises(CommandError, match="cannot be written"):
        call_command("proof", "1", "--out", str(tmp_path / "no" / "folder.json"))


def test_an_altered_ledger_gives_no_proof(closed: list[Any], tmp_path: Path) -> None:
    """A proof that would not hold is not handed out; the command says what to run."""
    with triggers_away():
        Entry.objects.filter(number=1).update(content=json.dumps({"kind": "installation"}))
    with pytest.raises(CommandError, match=r"run manage\.py verify"):
        call_command("proof", "1", "--out", str(tmp_path / "proof.json"))
    assert not (tmp_path / "proof.json").exists()
