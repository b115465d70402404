"""The proof of one record: its text, the path to a signed head, the head; plant/signing/check_record.py checks it."""

from __future__ import annotations

from typing import Any

from records.ledger import merkle, tree
from records.ledger.models import Entry, Installation
from records.ledger.verify_tree import Closing, closings


class NoProof(LookupError):
    """There is nothing to prove, or no signed head to prove it by; the message says what to do."""


def proof_of(number: int, since: int | None = None) -> dict[str, Any]:
    """The proof of entry `number` under the newest head that a closed day signed.

    `since`: the tree size of an earlier head that somebody holds; the proof then links the two. Raises NoProof;
    ProofFailed when the ledger no longer leads to the head that was signed.
    """
    entry = Entry.objects.filter(number=number).first()
    if entry is None:
        raise NoProof(f"There is no entry {number}; the last one is {tree.size()}.")
    plant = Installation.objects.values_list("plant_name", flat=True).first()
    days = closings()
    if plant is None or not days or days[-1].head.tree_size < number:
        raise NoProof(f"No signed head covers entry {number} yet: close the day first.")
    head = days[-1].head
    path = tree.inclusion(number, head.tree_size)
    leaf = merkle.leaf_hash(entry.content.encode())
    # What is handed out must hold: a proof that fails would only show that the ledger was altered.
    merkle.verify_inclusion(leaf, number - 1, head.tree_size, path, bytes.fromhex(head.root))
    proof: dict[str, Any] = {
        "format": 1,
        "plant": plant,
        "entry": number,
        "content": entry.content,
        "leaf_hash": leaf.hex(),
        "tree_size": head.tree_size,
        "root": head.root,
        "path": [one.hex() for one in path],
        "head": {"text": head.text, "signature": head.signature, "certificate": head.certificate},
    }
    if since is not None:
        proof["consistency"] = _link(since, days[-1])
    return proof


def _link(first: int, newest: Closing) -> dict[str, Any]:
    second = newest.head.tree_size
    if not 1 <= first <= second:
        raise NoProof(f"No link leads from a head over {first} entries to the newest one, over {second}.")
    path = [] if first == second else tree.consistency(first, second)
    first_root, second_root = tree.head(first), bytes.fromhex(newest.head.root)
    merkle.verify_consistency(first, second, first_root, second_root, path)
    return {
        "first_size": first,
        "first_root": first_root.hex(),
        "second_size": second,
        "second_root": second_root.hex(),
        "path": [one.hex() for one in path],
    }
