#!/usr/bin/env python3
"""Check one record of a plant's ledger against a signed head, without the plant's software.

    python3 check_record.py PROOF.json --certificate PLANT.pem

Needs Python 3.9 or newer and the package `cryptography`, nothing else: this file can be copied and run alone.
It checks, in this order, that

  1. the file is a proof of the known form;
  2. the record's text gives its leaf hash: SHA-256 of 0x00 and the text (RFC 9162, 2.1.1; the same in RFC
  6962); 3. the path of hashes leads from that leaf, at the record's number, to the root (RFC 9162, 2.1.3.2);
  4. the head names the same plant, number of records and root;
  5. the plant's certificate confirms the signature of the head (RSA PKCS #1 v1.5, SHA-256), and held when
  it closed; 6. where given: the ledger of one head continues that of the other unaltered (RFC 9162, 2.1.4.2).

It prints a line for each and ends with 0 when all hold, with 1 when one does not.
"""

from __future__ import annotations

import argparse
import base64
import binascii
import hashlib
import json
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timezone
from pathlib import Path
from typing import Any

LARGEST_FILE = 16 * 1024 * 1024  # bytes; a proof has a few thousand
LONGEST_PATH = 64  # hashes; enough for more records than a plant can ever make


class NotProven(Exception):
    """A step that does not hold; the message is the line to print."""


@dataclass(frozen=True)
class Line:
    """One line of the answer: `holds` is None for a remark."""

    holds: bool | None
    text: str

    def __str__(self) -> str:
        mark = {True: "ok    ", False: "FAILED", None: "note  "}[self.holds]
        return f"{mark}  {_plain(self.text)}"


# --- the tree


def leaf_hash(data: bytes) -> bytes:
    """Hash of a record in the tree."""
    return hashlib.sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """Hash of a node over two others."""
    return hashlib.sha256(b"\x01" + left + right).digest()


def included(leaf: bytes, index: int, size: int, path: Sequence[bytes], root: bytes) -> bool:
    """Whether the path leads from the leaf at `index` (0 first) in a tree of `size` leaves to `root`."""
    if not 0 <= index < size:
        return False
    place, last, found = index, size - 1, leaf
    for neighbor in path:
        if last == 0:
            return False
        if place % 2 or place == last:
            found = node_hash(neighbor, found)
            while place % 2 == 0 and place:
                place, last = place // 2, last // 2
        else:
            found = node_hash(found, neighbor)
        place, last = place // 2, last // 2
    return last == 0 and found == root


def consistent(first_size: int, first: bytes, second_size: int, second: bytes, path: Sequence[bytes]) -> bool:
    """Whether the path shows the tree of `first_size` leaves to be the beginning of that of `second_size`."""
    if not 0 <= first_size <= second_size:
        return False
    if first_size == second_size:
        return not path and first == second
    if first_size == 0:
        return not path and first == hashlib.sha256(b"").digest()
    power_of_two = first_size & (first_size - 1) == 0
    hashes = [first, *path] if power_of_two else list(path)
    if not hashes:
        return False
    place, last = first_size - 1, second_size - 1
    while place % 2:
        place, last = place // 2, last // 2
    old = new = hashes[0]
    for one in hashes[1:]:
        if last == 0:
            return False
        if place % 2 or place == last:
            old, new = node_hash(one, old), node_hash(one, new)
            while place % 2 == 0 and place:
                place, last = place // 2, last // 2
        else:
            new = node_hash(new, one)
        place, last = place // 2, last // 2
    return last == 0 and old == first and new == second


# --- the steps


def check(proof: Any, certificate_pem: str | None = None) -> list[Line]:
    """Every step as a line, up to the first that fails.

    `proof`: the parsed file. `certificate_pem`: the plant's certificate, obtained apart from it.
    """
    lines: list[Line] = []
    try:
        for step in (_form, _leaf, _path, _head):
            lines.append(Line(True, step(proof)))
        lines.extend(_signature(proof, certificate_pem))
        if proof.get("consistency") is not None:
            lines.extend(_consistency(proof))
    except NotProven as failure:
        lines.append(Line(False, str(failure)))
    return lines


def _form(proof: Any) -> str:
    if not isinstance(proof, dict) or _whole(proof, "format") != 1:
        raise NotProven("This is not a proof of the form that this script knows (format 1).")
    entry, size = _whole(proof, "entry"), _whole(proof, "tree_size")
    if not 1 <= entry <= size:
        raise NotProven(f"Record {entry} cannot be among {size} records.")
    return f"A proof for record {entry} of {size} of {_text(proof, 'plant')}."


def _leaf(proof: dict[str, Any]) -> str:
    found = leaf_hash(_text(proof, "content").encode())
    if found != _hash(proof, "leaf_hash"):
        raise NotProven(
            f"The record's text was altered, or is another record's: its hash is {found.hex()}, "
            f"the proof says {_hash(proof, 'leaf_hash').hex()}."
        )
    return f"The record's text gives the leaf hash {found.hex()}."


def _path(proof: dict[str, Any]) -> str:
    index, size, root = _whole(proof, "entry") - 1, _whole(proof, "tree_size"), _hash(proof, "root")
    path = _hashes(proof, "path")
    if not included(_hash(proof, "leaf_hash"), index, size, path, root):
        raise NotProven(f"The path does not lead from this record to the root {root.hex()}.")
    return f"A path of {len(path)} hashes leads from the record to the root {root.hex()}."


def _head(proof: dict[str, Any]) -> str:
    head = _signed_head(proof)
    for name, given in (("plant", proof["plant"]), ("tree_size", proof["tree_size"]), ("root", proof["root"])):
        if type(head.get(name)) is not type(given) or head[name] != given:
            raise NotProven(f"The signed head says {name} {head.get(name)!r}, the proof says {given!r}.")
    return f"The head of {_text(head, 'day')}, closed at {_text(head, 'closed_at')}, names this root."


def _signature(proof: dict[str, Any], certificate_pem: str | None) -> list[Line]:
    head = _member(proof, "head")
    text = _text(head, "text")
    try:
        signature = base64.b64decode(_text(head, "signature"), validate=True)
    except (binascii.Error, ValueError):
        raise NotProven("The signature of the head is not written as base64.") from None
    embedded = _text(head, "certificate") if "certificate" in head else None
    pem = certificate_pem or embedded
    if pem is None:
        raise NotProven("No certificate: neither given with --certificate nor in the proof.")
    certificate = _load_certificate(pem)
    if not _confirms(certificate, signature, text.encode()):
        raise NotProven("The certificate does not confirm the signature: another key, or an altered head.")
    closed_at = _moment(_text(_signed_head(proof), "closed_at"))
    start, end = _validity(certificate)
    if not start <= closed_at <= end:
        raise NotProven(f"The certificate holds from {start:%Y-%m-%d} to {end:%Y-%m-%d}, not at the closing.")
    return [
        Line(True, f"The signature of the head is that of {certificate.subject.rfc4514_string()}."),
        _origin(certificate, certificate_pem is not None, embedded),
    ]


def _origin(certificate: Any, given: bool, embedded: str | None) -> Line:
    from cryptography.hazmat.primitives import hashes

    fingerprint = certificate.fingerprint(hashes.SHA256()).hex()
    if not given:
        return Line(
            None,
            "The certificate came with the proof: it was not independently obtained, and whoever made the proof "
            "could have made it too. Ask the plant or the regulator for its SHA-256 fingerprint and compare: "
            + fingerprint,
        )
    differs = embedded is not None and _load_certificate(embedded) != certificate
    other = " The proof carries another one." if differs else ""
    return Line(None, f"The certificate was given apart from the proof; SHA-256 {fingerprint}.{other}")


def _consistency(proof: dict[str, Any]) -> list[Line]:
    link = _member(proof, "consistency")
    first, second = _whole(link, "first_size"), _whole(link, "second_size")
    roots = _hash(link, "first_root"), _hash(link, "second_root")
    own = _whole(proof, "tree_size"), _hash(proof, "root")
    if own not in ((first, roots[0]), (second, roots[1])):
        raise NotProven("The link between two heads does not touch the head of this proof.")
    if not consistent(first, roots[0], second, roots[1], _hashes(link, "path")):
        raise NotProven(f"The ledger of {second} records does not continue that of {first} records unaltered.")
    other = roots[1] if own == (first, roots[0]) else roots[0]
    return [
        Line(True, f"The ledger of {second} records continues that of {first} records unaltered."),
        Line(None, f"Compare the other head's root with the one printed and signed on its day: {other.hex()}"),
    ]


# --- reading the file


def load(text: str) -> Any:
    """The proof's JSON. A name given twice in one object is refused: two readers could take different ones."""
    try:
        return json.loads(text, object_pairs_hook=_once_each)
    except (ValueError, RecursionError) as error:
        raise NotProven(f"The proof is not readable JSON: {error}") from None


def _once_each(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        raise ValueError("a name occurs twice")
    return found


def _member(holder: dict[str, Any], name: str) -> dict[str, Any]:
    value = holder.get(name)
    if not isinstance(value, dict):
        raise NotProven(f"The proof has no {name!r}.")
    return value


def _text(holder: dict[str, Any], name: str) -> str:
    value = holder.get(name)
    if not isinstance(value, str) or not value:
        raise NotProven(f"The proof has no text {name!r}.")
    if any("\ud800" <= letter <= "\udfff" for letter in value):
        raise NotProven(f"The text {name!r} has half a character in it.")
    return value


def _whole(holder: dict[str, Any], name: str) -> int:
    value = holder.get(name)
    if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value < 2**63:
        raise NotProven(f"The proof has no whole number {name!r}.")
    return value


def _hash(holder: dict[str, Any], name: str) -> bytes:
    return _as_hash(holder.get(name), name)


def _hashes(holder: dict[str, Any], name: str) -> list[bytes]:
    values = holder.get(name)
    if not isinstance(values, list) or len(values) > LONGEST_PATH:
        raise NotProven(f"The proof has no list of hashes {name!r}.")
    return [_as_hash(value, name) for value in values]


def _as_hash(value: Any, name: str) -> bytes:
    if isinstance(value, str) and len(value) == 64 and set(value) <= set("0123456789abcdef"):
        return bytes.fromhex(value)
    raise NotProven(f"{name!r} is not a SHA-256 hash in hex.")


def _signed_head(proof: dict[str, Any]) -> dict[str, Any]:
    head = load(_text(_member(proof, "head"), "text"))
    if not isinstance(head, dict):
        raise NotProven("The signed head is not an object.")
    return head


def _moment(text: str) -> datetime:
    try:
        found = datetime.fromisoformat(text.replace("Z", "+00:00"))
    except ValueError:
        raise NotProven(f"{text!r} is no time.") from None
    return found if found.tzinfo else found.replace(tzinfo=timezone.utc)  # noqa: UP017  # this file runs on Python 3.9, too


def _plain(text: str) -> str:
    """Text as one visible line: nothing in a proof may move the cursor or hide a word."""
    return "".join(letter if letter.isprintable() else f"\\u{ord(letter):04x}" for letter in text)


# --- the certificate


def _load_certificate(pem: str) -> Any:
    from cryptography import x509

    try:
        return x509.load_pem_x509_certificate(pem.encode())
    except ValueError:
        raise NotProven("The certificate is not readable (PEM is expected).") from None


def _confirms(certificate: Any, signature: bytes, signed: bytes) -> bool:
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import padding, rsa

    key = certificate.public_key()
    if not isinstance(key, rsa.RSAPublicKey):
        raise NotProven("The certificate holds no RSA key.")
    try:
        key.verify(signature, signed, padding.PKCS1v15(), hashes.SHA256())
    except InvalidSignature:
        return False
    return True


def _validity(certificate: Any) -> tuple[datetime, datetime]:
    return certificate.not_valid_before_utc, certificate.not_valid_after_utc


# --- the command


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the lines and the result; 0 when every step holds."""
    parser = argparse.ArgumentParser(description="Check one record of a plant's ledger: is it as it was signed?")
    parser.add_argument("proof", type=Path, help="the proof, a JSON file")
    parser.add_argument("--certificate", type=Path, help="the plant's certificate (PEM), got by another way")
    options = parser.parse_args(arguments)
    pem = None
    try:
        proof = load(_read(options.proof))
        pem = _read(options.certificate) if options.certificate else None
        lines = check(proof, pem)
    except NotProven as failure:
        lines, proof = [Line(False, str(failure))], None
    except ImportError:
        lines, proof = [Line(False, "The package 'cryptography' is missing: pip install cryptography")], None
    for line in lines:
        print(line)
    return _conclude(lines, proof, independent=pem is not None)


def _conclude(lines: list[Line], proof: Any, *, independent: bool) -> int:
    if any(line.holds is False for line in lines):
        print("RESULT  Not proven: see the line above.")
        return 1
    print("RECORD  " + _plain(proof["content"]))
    print("RESULT  This record stands, unaltered, in the ledger whose head was signed", end="")
    print("." if independent else ", provided that the certificate is really the plant's.")
    print("        That does not show that what was written down was true, nor that any product was safe.")
    return 0


def _read(path: Path) -> str:
    try:
        if path.stat().st_size > LARGEST_FILE:
            raise NotProven(f"{path} is too large for a proof or a certificate.")
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise NotProven(f"{path} cannot be read: {error}") from None


if __name__ == "__main__":
    sys.exit(main())
