"""The script that a stranger runs: it accepts a true proof, names what is wrong with any other, and never breaks."""

from __future__ import annotations

import base64
import copy
import hashlib
import json
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plant.signing import check_record
from plant.signing.authority import Authority
from tests.plant.signing.conftest import CLOSED
from tests.published.test_check_record_vectors import path, proof, tree

pytestmark = pytest.mark.once

RECORDS = [json.dumps({"n": n, "°F": "38.40"}, ensure_ascii=False, separators=(",", ":")) for n in range(1, 12)]
LEAVES = [record.encode() for record in RECORDS]


def head_text(**overrides: object) -> str:
    """A head in canonical JSON: names sorted, no spaces."""
    head: dict[str, object] = {
        "plant": "Quillbrook Creamery",
        "day": "2026-03-02",
        "closed_at": "2026-03-03T06:05:00.000000Z",
        "tree_size": len(RECORDS),
        "root": tree(LEAVES).hex(),
    }
    return json.dumps({**head, **overrides}, sort_keys=True, separators=(",", ":"))


def signed(authority: Authority, text: str) -> dict[str, str]:
    """A head with the plant's signature."""
    signature = base64.b64encode(authority.sign_head(text.encode())).decode()
    return {"text": text, "signature": signature, "certificate": authority.plant_certificate_pem}


@pytest.fixture
def good(keys: Authority) -> dict[str, Any]:
    """A true proof of record 6 of 11, with the link from the head of 4 records."""
    return {
        "format": 1,
        "plant": "Quillbrook Creamery",
        "entry": 6,
        "content": RECORDS[5],
        "leaf_hash": hashlib.sha256(b"\x00" + LEAVES[5]).hexdigest(),
        "tree_size": len(RECORDS),
        "root": tree(LEAVES).hex(),
        "path": [one.hex() for one in path(5, LEAVES)],
        "head": signed(keys, head_text()),
        "consistency": {
            "first_size": 4,
            "first_root": tree(LEAVES[:4]).hex(),
            "second_size": len(RECORDS),
            "second_root": tree(LEAVES).hex(),
            "path": [one.hex() for one in proof(4, LEAVES)],
        },
    }


def failure(document: Any, certificate: str | None = None) -> str:
    """The line that failed, or '' when all holds."""
    return "".join(line.text for line in check_record.check(document, certificate) if line.holds is False)


def test_a_true_proof_holds(good: dict[str, Any], keys: Authority) -> None:
    """Every step holds with the plant's certificate."""
    lines = check_record.check(good, keys.plant_certificate_pem)
    assert [line.holds for line in lines] == [True, True, True, True, True, None, True, None]


def test_a_proof_without_the_link_holds(good: dict[str, Any]) -> None:
    """The consistency of two heads is optional."""
    del good["consistency"]
    assert failure(good) == ""


def test_an_embedded_certificate_is_said_to_prove_less(good: dict[str, Any]) -> None:
    """Without a certificate from elsewhere the script says that it was not independently obtained."""
    assert any("not independently obtained" in line.text for line in check_record.check(good))


def replaced(*keys_to: str | int, by: Any) -> Callable[[dict[str, Any]], None]:
    """A change that puts something else at a place in the proof."""

    def change(document: Any) -> None:
        for key in keys_to[:-1]:
            document = document[key]
        document[keys_to[-1]] = by

    return change


WRONG = "ab" * 32


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (replaced("format", by=2), "form"),
        (replaced("format", by=True), "format"),
        (replaced("entry", by=7), "path does not lead"),
        (replaced("entry", by=0), "cannot be among"),
        (replaced("entry", by=12), "cannot be among"),
        (replaced("entry", by="6"), "entry"),
        (replaced("plant", by="Otra Lechería"), "plant"),
        (replaced("content", by=RECORDS[5].replace("38.40", "38.4")), "altered"),
        (replaced("content", by=RECORDS[6]), "altered"),
        (replaced("content", by="\ud800"), "half a character"),
        (replaced("leaf_hash", by=WRONG), "altered"),
        (replaced("leaf_hash", by=WRONG.upper()), "hex"),
        (replaced("tree_size", by=12), "tree_size"),
        (replaced("root", by=WRONG), "path does not lead"),
        (replaced("path", 0, by=WRONG), "path does not lead"),
        (replaced("path", by=[]), "path does not lead"),
        (replaced("path", by=[WRONG] * 65), "list of hashes"),
        (replaced("path", by="nothing"), "list of hashes"),
        (replaced("head", by=None), "head"),
        (replaced("head", "text", by="{"), "JSON"),
        (replaced("head", "text", by="[]"), "not an object"),
        (replaced("head", "text", by=head_text(day="2026-03-03")), "does not confirm"),
        (replaced("head", "text", by=head_text(tree_size=12)), "tree_size"),
        (replaced("head", "text", by=head_text(root=WRONG)), "root"),
        (replaced("head", "signature", by="AAAA"), "does not confirm"),
        (replaced("head", "signature", by="no base64!"), "base64"),
        (replaced("head", "certificate", by="no certificate"), "not readable"),
        (replaced("consistency", "first_root", by=WRONG), "does not continue"),
        (replaced("consistency", "first_size", by=5), "does not continue"),
        (replaced("consistency", "path", by=[]), "does not continue"),
        (replaced("consistency", "second_root", by=WRONG), "does not touch"),
        (replaced("consistency", by=[]), "consistency"),
    ],
)
def test_each_change_is_named(good: dict[str, Any], change: Callable[[Any], None], words: str) -> None:
    """One thing altered, one plain sentence about it."""
    altered = copy.deepcopy(good)
    change(altered)
    assert words in failure(altered)


def test_each_member_missing_is_named(good: dict[str, Any]) -> None:
    """A proof that lacks any of its parts is refused."""
    for name in set(good) - {"consistency"}:
        assert failure({key: value for key, value in good.items() if key != name}), name


def test_a_head_signed_by_another_plant_is_refused(good: dict[str, Any], keys: Authority, tmp_path: Path) -> None:
    """A forger's own certificate in the proof does not help against the plant's certificate given apart."""
    forger = Authority.create(tmp_path / "keys", "Quillbrook Creamery", CLOSED)
    good["head"] = signed(forger, head_text())
    assert "another key" in failure(good, keys.plant_certificate_pem)


def test_a_day_closed_outside_the_certificates_time_is_refused(good: dict[str, Any], keys: Authority) -> None:
    """A head that claims a time before the plant had its key does not count."""
    good["head"] = signed(keys, head_text(closed_at="2020-01-01T00:00:00.000000Z"))
    assert "not at the closing" in failure(good)


def test_a_name_given_twice_is_refused(good: dict[str, Any]) -> None:
    """Two readers could take different ones."""
    with pytest.raises(check_record.NotProven, match="occurs twice"):
        check_record.load('{"entry": 1, "entry": 2}')


def test_the_record_cannot_hide_words_on_the_screen() -> None:
    """Control and direction characters are written out."""
    assert str(check_record.Line(True, "a\x1b[2K\u202eb")) == "ok      a\\u001b[2K\\u202eb"


class Run:
    """The script copied away from the project and run alone."""

    def __init__(self, folder: Path) -> None:
        self.script = folder / "check_record.py"
        self.folder = folder
        shutil.copy(check_record.__file__, self.script)

    def __call__(self, document: str, *arguments: str) -> subprocess.CompletedProcess[str]:
        (self.folder / "proof.json").write_text(document, encoding="utf-8", errors="surrogatepass")
        command = [sys.executable, "-I", str(self.script), str(self.folder / "proof.json"), *arguments]
        return subprocess.run(command, capture_output=True, text=True, cwd=self.folder, timeout=60)


@pytest.fixture
def run(tmp_path: Path) -> Run:
    return Run(tmp_path)


def test_the_script_alone_confirms_a_true_proof(good: dict[str, Any], keys: Authority, run: Run) -> None:
    """Copied away from the project it prints its steps, the record, the result and the caution, and ends with 0."""
    (run.folder / "plant.pem").write_text(keys.plant_certificate_pem)
    done = run(json.dumps(good), "--certificate", str(run.folder / "plant.pem"))
    assert done.returncode == 0, done.stdout + done.stderr
    assert "This record stands, unaltered" in done.stdout
    assert "nor that any product was safe" in done.stdout
    assert RECORDS[5] in done.stdout


def test_the_script_alone_refuses_an_altered_record(good: dict[str, Any], run: Run) -> None:
    """It ends with 1, says which step failed, and prints no record as proven."""
    good["content"] = RECORDS[6]
    done = run(json.dumps(good))
    assert done.returncode == 1
    assert "FAILED  The record's text was altered" in done.stdout
    assert "RECORD" not in done.stdout


BAD_FILES = ["", "{", "[]", "null", '"x"', "[" * 100_000, '{"format": 1' + "0" * 5000 + "}", "\udcff"]


@pytest.mark.parametrize("document", BAD_FILES, ids=range(len(BAD_FILES)))
def test_the_script_never_breaks_on_a_bad_file(run: Run, document: str) -> None:
    """Whatever the file holds: a sentence and 1, no traceback."""
    done = run(document)
    assert (done.returncode, done.stderr) == (1, "")
    assert "FAILED" in done.stdout


def test_the_script_says_when_the_file_is_not_there(run: Run) -> None:
    """A wrong path for the certificate is one plain line."""
    done = run("{}", "--certificate", str(run.folder / "none.pem"))
    assert (done.returncode, done.stderr) == (1, "")
    assert "cannot be read" in done.stdout


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=6,
)
PLACES = [
    ("format",), ("plant",), ("entry",), ("content",), ("leaf_hash",), ("tree_size",), ("root",),
    ("path",), ("path", 1), ("head",), ("head", "text"), ("head", "signature"), ("head", "certificate"),
    ("consistency",), ("consistency", "first_size"), ("consistency", "path"),
]  # fmt: skip


def test_no_value_anywhere_breaks_it_or_passes(good: dict[str, Any]) -> None:
    """Any JSON value put in any place of a true proof: one failed line, never an exception, never a pass."""

    @settings(max_examples=600, deadline=None, database=None)
    @given(st.sampled_from(PLACES), JSON)
    def put(place: tuple[Any, ...], value: Any) -> None:
        altered = copy.deepcopy(good)
        replaced(*place, by=value)(altered)
        unchanged = json.dumps(altered) == json.dumps(good) or (place == ("consistency",) and value is None)
        assert (failure(altered) == "") is unchanged

    put()


def test_times_are_read_with_or_without_a_fraction(good: dict[str, Any], keys: Authority) -> None:
    """The head's closing time may carry six decimals or none."""
    good["head"] = signed(keys, head_text(closed_at="2026-03-03T06:05:00Z"))
    assert failure(good) == ""
