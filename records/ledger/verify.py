"""Verification of the whole ledger, in seven steps; `manage.py verify` prints it.

1. The triggers stand and nothing else acts on the tables; columns, unique promises, indexes and forms of values are as
they were made. 2. Numbers without a gap; each entry equals its typed row, its leaf its content; no row without an
entry. 3. The stored subtrees are those of the leaves. 4. Each closed day's signed head fits; the plant's certificates
are those it began with. 5. Rows under an approved plan say what was approved. 6. Kept files have the bytes of their
hashes. 7. An outside head, if given, fits.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from cryptography import x509
from django.apps import apps
from django.conf import settings
from django.db import connection

from plant.hazard_plan.content import to_json
from plant.hazard_plan.described import PLANT_TABLES
from plant.hazard_plan.stored import from_rows
from plant.signing.certificates import fingerprint
from records.ledger import files, tree, triggers
from records.ledger.findings import Findings
from records.ledger.heads import OutsideHead, signature_problem
from records.ledger.registry import kinds
from records.ledger.verify_database import check_database
from records.ledger.verify_entries import pieces, stray_rows
from records.ledger.verify_tree import TreeCheck, check_days, closings

ONLY_OUTSIDE = (
    "What this cannot show by itself: that nobody with the database and the keys wrote the whole ledger anew, or cut "
    "off its end. Only a head kept outside can: one printed on a signed day sheet, or in a proof handed out "
    "(manage.py verify --head FILE)."
)


@dataclass(slots=True)
class Report:
    """The result: how many entries, the head over them, what differs; `vouched` is how far the outside head reaches."""

    count: int = 0
    head: str = ""
    days: int = 0
    files: int = 0
    vouched: int | None = None
    found: Findings = field(default_factory=Findings)

    @property
    def good(self) -> bool:
        return not self.found


def verify(outside: OutsideHead | None = None) -> Report:
    """Check everything, in bounded memory, while the plant goes on appending; entries added meanwhile are left out."""
    report = Report(count=tree.size())
    found = report.found
    # 1.
    for name in triggers.missing(connection):
        found.add("trigger", None, f"the trigger {name} is missing or was changed: records could be altered unseen")
    check_database(found)
    # 2., 3.
    days = [one for one in closings() if one.number <= report.count]
    sizes = [one.head.tree_size for one in days] + ([outside.tree_size] if outside else [])
    check = TreeCheck(sizes, found)
    for piece in pieces(report.count, found):
        check.add(piece)
    check.finish()
    stray_rows(report.count, found)
    report.head = check.tree.root().hex() if check.tree.size == report.count else ""
    # 4., 5., 6.
    report.days = len(days)
    check_days(days, check.roots, found)
    _check_keys(found)
    _check_plans(found)
    report.files = _check_files(found)
    # 7.
    if outside:
        report.vouched = _check_outside(outside, check.roots, report.count, found)
    return report


def _check_keys(found: Findings) -> None:
    """The plant's certificates in KEYS_DIR are those that the ledger recorded as it began; without a copy, nothing."""
    certificates: Any = kinds()["certificate"]._default_manager
    known = set(certificates.filter(what="issued", person_id=None).values_list("fingerprint", flat=True))
    for name in ("authority.pem", "plant.pem"):
        path = Path(settings.KEYS_DIR) / name
        try:
            here = fingerprint(x509.load_pem_x509_certificate(path.read_bytes()))
        except OSError:
            continue  # who verifies need not have the keys
        except ValueError as error:
            here = f"none ({error})"
        if known and here not in known:
            found.add("keys", None, f"{path} is not a certificate that this ledger recorded as the plant's: {here}")


def _check_plans(found: Findings) -> None:
    versions = apps.get_model("plant", "PlanVersion")._default_manager
    columns = ("number", "version_id", "version_number", "plan", "content_hash")
    approvals = kinds()["plan approval"]._default_manager.values_list(*columns)
    for number, version_id, version, text, content_hash in approvals:
        name = f"plan version {version} (approved by entry {number})"
        if hashlib.sha256(text.encode()).hexdigest() != content_hash:
            found.add("plan", number, f"{name}: the hash beside the approved text is not that of the text")
        row = versions.filter(id=version_id).first()
        if row is None:
            found.add("plan", number, f"{name}: its rows are gone")
        elif (trouble := _plan_trouble(row, text)) is not None:
            found.add("plan", number, f"{name}: its rows no longer say what was approved{trouble}")


def _plan_trouble(version: Any, text: str) -> str | None:
    """None, or what is wrong. What describes the plant is left out: it may change after an approval, by revisions."""
    try:
        rows, frozen = to_json(from_rows(version)), json.loads(text)
        parts = [name for name in frozen.keys() | rows.keys() if name not in PLANT_TABLES]
        changed = sorted(name for name in parts if rows.get(name) != frozen.get(name))
        return f" ({', '.join(changed)})" if changed else None
    except (ValueError, KeyError, TypeError) as error:  # PlanError among them: the rows no longer make a plan
        return f" ({error})"


def _check_files(found: Findings) -> int:
    count = 0
    columns = ("number", "sha256", "name")
    for number, sha256, name in kinds()["file kept"]._default_manager.values_list(*columns).iterator(chunk_size=2000):
        count += 1
        if problem := files.problem_of(sha256):
            found.add("file", number, f"the kept file {name!r} of entry {number} ({sha256}) {problem}")
    return count


def _check_outside(outside: OutsideHead, roots: dict[int, str], count: int, found: Findings) -> int:
    if outside.signed is not None and (problem := signature_problem(outside.signed)):
        found.add("outside", None, f"the outside head does not hold in itself: {problem}")
        return 0
    if outside.tree_size > count:
        found.add(
            "outside",
            count,
            f"the outside head knows {outside.tree_size} entries, the ledger has {count}: its end was cut off, "
            "or it is another ledger",
        )
        return 0
    computed = roots.get(outside.tree_size) or "none: the line of entries breaks before"
    if computed != outside.root:
        found.add(
            "outside",
            None,
            f"the outside head over {outside.tree_size} entries is {outside.root}, computed {computed}: "
            f"something up to entry {outside.tree_size} is not as it was",
        )
        return 0
    return outside.tree_size
