"""Heads of the ledger: the text that the plant's key signs, the lines that a sheet prints, and reading both back."""

from __future__ import annotations

import base64
import binascii
import json
import re
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from plant.signing.authority import Authority, verify_head
from records.ledger import tree
from records.ledger.canonical import canonical, moment


class UnreadableHead(ValueError):
    """What was given is no head; the message says what is wanted."""


@dataclass(frozen=True, slots=True)
class SignedHead:
    """A head as the plant signs it: `text` is canonical JSON, `signature` base64, `certificate` PEM."""

    tree_size: int
    root: str
    text: str
    signature: str
    certificate: str


def head_text(plant: str, plant_day: date, revision: int, closed_at: datetime, size: int, root: str) -> str:
    """The canonical JSON of a head."""
    return canonical(
        {
            "closed_at": moment(closed_at),
            "plant": plant,
            "day": plant_day.isoformat(),
            "revision": revision,
            "root": root,
            "tree_size": size,
        }
    )


def sign_present_head(
    authority: Authority, plant: str, plant_day: date, revision: int, closed_at: datetime
) -> SignedHead:
    """The head of all entries so far, signed. Call it inside an act: nothing is appended between."""
    size = tree.size()
    root = tree.head(size).hex()
    text = head_text(plant, plant_day, revision, closed_at, size, root)
    signature = base64.b64encode(authority.sign_head(text.encode())).decode()
    return SignedHead(size, root, text, signature, authority.plant_certificate_pem)


def signature_problem(head: SignedHead) -> str:
    """Why a signed head does not hold in itself, or nothing. Whether it fits a ledger is another question."""
    try:
        said = json.loads(head.text)
        if (said["tree_size"], said["root"]) != (head.tree_size, head.root):
            return (
                f"its signed text says {said['tree_size']} entries with root {said['root']}, "
                f"the columns beside it {head.tree_size} with root {head.root}"
            )
        signature = base64.b64decode(head.signature, validate=True)
        if not verify_head(head.text.encode(), signature, head.certificate):
            return "the plant's certificate does not confirm its signature"
    except (ValueError, KeyError, TypeError, binascii.Error) as error:
        return f"its signed text, signature or certificate cannot be read ({error})"
    return ""


# --- heads held outside


@dataclass(frozen=True, slots=True)
class OutsideHead:
    """A head that somebody kept outside the database; `signed` when its signature came with it."""

    tree_size: int
    root: str
    signed: SignedHead | None = None


def printed_lines(size: int, root: str) -> tuple[str, str]:
    """The two lines of a head as a sheet prints them, to be typed back if need be."""
    groups = " ".join(root[at : at + 8] for at in range(0, len(root), 8))
    return f"entries: {size}", f"head: {groups}"


_PROOF_KEYS = {"format", "entry", "head"}
_HEX = re.compile(r"(?<![0-9a-f])[0-9a-f]{8}(?:\s*[0-9a-f]{8}){7}(?![0-9a-f])")
_LABELLED = re.compile(r"(?:entries|tree[ _]size)\D{0,3}(\d+)")


def read_outside(text: str) -> OutsideHead:
    """A head from a proof file, a head's JSON, or the two lines printed on a sheet. Raises UnreadableHead."""
    try:
        value = json.loads(text)
    except ValueError:
        return _from_print(text)
    if not isinstance(value, dict):
        raise UnreadableHead("The file is JSON but holds no head.")
    try:
        return _from_proof(value) if value.keys() >= _PROOF_KEYS else _from_json(value)
    except (KeyError, TypeError, ValueError) as error:
        raise UnreadableHead(f"The file is JSON but holds no head that can be read ({error}).") from error


def _from_proof(proof: dict[str, Any]) -> OutsideHead:
    head = proof["head"]
    said = _from_json(json.loads(head["text"]))
    signed = SignedHead(said.tree_size, said.root, head["text"], head["signature"], head["certificate"])
    return OutsideHead(said.tree_size, said.root, signed)


def _from_json(value: dict[str, Any]) -> OutsideHead:
    if "text" in value:
        return _from_proof({"head": value})
    size, root = value["tree_size"], value["root"]
    if type(size) is not int or size < 0 or not re.fullmatch(r"[0-9a-f]{64}", root):
        raise ValueError("tree_size must be a whole number and root 64 hexadecimal digits")
    return OutsideHead(size, root)


def _from_print(text: str) -> OutsideHead:
    lowered = text.lower()
    root, size = _HEX.search(lowered), _LABELLED.search(lowered)
    if root is None or size is None:
        raise UnreadableHead(
            "No head was found. Write two lines as on the sheet: 'entries: 1234' and 'head: ' with its 64 digits, "
            "or give a proof file."
        )
    return OutsideHead(int(size[1]), re.sub(r"\s", "", root[0]))
