"""Two people sign one sheet, and whatever is changed afterwards is noticed."""

from __future__ import annotations

import asyncio
import dataclasses
import io
import re
from datetime import timedelta
from pathlib import Path

import pytest
from pyhanko.pdf_utils.generic import NameObject, NumberObject
from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
from pypdf import PdfReader

from plant.signing.authority import Authority, SigningMaterial
from plant.signing.pdf import CannotSign, DoesNotFit, NewField, UnreadablePdf, check_pdf, sign_pdf
from tests.plant.signing.conftest import (
    CLOSED,
    REVIEWED,
    STATIC,
    rendered,
    signed_by_operator,
    signed_by_supervisor,
)

pytestmark = pytest.mark.once


def test_two_signatures_in_sequence_are_good(keys: Authority, twice_signed: bytes) -> None:
    """The operator's stands under the supervisor's; each says who, when and what it means."""
    first, second = check_pdf(twice_signed, keys.root_pem)
    assert (first.good, first.signer, first.signed_at) == (True, "Ines Alder", CLOSED)
    assert (second.good, second.signer, second.signed_at) == (True, "Wren Castell", REVIEWED)
    assert first.reason == "operator in charge: I was in charge of this day"
    assert (first.covers, first.later_changes) == ("its version", "signatures")
    assert (second.covers, second.later_changes) == ("whole file", "none")


def test_signing_adds_to_the_file_and_changes_no_byte_before(once_signed: bytes, twice_signed: bytes) -> None:
    """Each signature is an incremental update."""
    assert once_signed.startswith(rendered())
    assert twice_signed.startswith(once_signed)


def test_signing_keeps_pdf_1_7_and_the_declaration(twice_signed: bytes) -> None:
    """After two signatures it is still 1.7, declares PDF/A-3b and carries its attachments."""
    reader = PdfReader(io.BytesIO(twice_signed))
    xmp = reader.root_object["/Metadata"].get_object().get_data().decode()  # type: ignore[union-attr]
    assert twice_signed.startswith(b"%PDF-1.7")
    assert "/Version" not in reader.root_object
    assert 'part="3"' in xmp
    assert set(reader.attachments) == {"a.csv", "day.json"}


def test_the_signature_is_pades(twice_signed: bytes) -> None:
    """Both use the sub-filter of EN 319 142-1 and state the given time (M, in the dictionary)."""
    assert len(re.findall(rb"/SubFilter\s*/ETSI\.CAdES\.detached", twice_signed)) == 2
    fields = PdfReader(io.BytesIO(twice_signed)).get_fields() or {}
    assert [str(fields[name]["/V"]["/M"]) for name in ("operator", "supervisor")] == [
        "D:20260303060500Z",
        "D:20260303150500Z",
    ]


def test_the_machines_clock_is_nowhere_in_the_document(once_signed: bytes) -> None:
    """Metadata stay as rendered; the only date added is the time of signing."""
    dates = set(re.findall(rb"D(?::|\\072)(\d{8})", once_signed[len(rendered()) :]))
    assert dates == {b"20260303"}


def test_the_visible_text_is_on_the_page(twice_signed: bytes) -> None:
    """Name, role, meaning and time of both can be read in the signatures' appearances."""
    page = PdfReader(io.BytesIO(twice_signed)).pages[1]
    looks = [a.get_object()["/AP"]["/N"].get_object() for a in page["/Annots"]]  # type: ignore[attr-defined]
    assert all(look["/Resources"]["/XObject"] for look in looks)


def test_a_signature_on_changed_bytes_is_not_good(keys: Authority, twice_signed: bytes) -> None:
    """Any byte flipped in what was signed is noticed: the file is unreadable or a signature is not good."""
    ranges = [tuple(map(int, found)) for found in re.findall(rb"/ByteRange \[(\d+) (\d+) (\d+) (\d+)\]", twice_signed)]
    start, length, second_start, second_length = ranges[-1]
    signed = [*range(start, start + length), *range(second_start, second_start + second_length)]
    for position in signed[:: len(signed) // 60]:
        changed = bytearray(twice_signed)
        changed[position] ^= 0x01
        assert not _all_good(bytes(changed), keys), f"byte {position}"


def _all_good(pdf: bytes, keys: Authority) -> bool:
    try:
        reports = check_pdf(pdf, keys.root_pem)
    except UnreadablePdf:
        return False
    return len(reports) == 2 and all(report.good for report in reports)


def test_a_page_changed_by_a_later_update_is_noticed(keys: Authority, twice_signed: bytes) -> None:
    """An addition to the file that alters a page leaves the signed bytes, yet no signature is good."""
    writer = IncrementalPdfFileWriter(io.BytesIO(twice_signed))
    page = writer.root["/Pages"]["/Kids"][0]
    page[NameObject("/Rotate")] = NumberObject(180)  # type: ignore[no-untyped-call]
    writer.update_container(page)
    output = io.BytesIO()
    writer.write(output)  # type: ignore[no-untyped-call]
    reports = check_pdf(output.getvalue(), keys.root_pem)
    assert [(r.unaltered, r.later_changes, r.good) for r in reports] == [(True, "other", False)] * 2


def test_a_stranger_with_another_root_trusts_nothing(tmp_path: Path, twice_signed: bytes) -> None:
    """Signatures whose chain does not end at the given root are intact but not trusted."""
    other = Authority.create(tmp_path / "keys", "Quillbrook Creamery", CLOSED)  # the same name, another key
    reports = check_pdf(twice_signed, other.root_pem)
    assert [(r.unaltered, r.trusted, r.good) for r in reports] == [(True, False, False)] * 2


def test_an_unsigned_document_has_no_signatures(keys: Authority) -> None:
    """Empty fields are not signatures."""
    assert check_pdf(rendered(), keys.root_pem) == []


def test_a_file_that_is_no_pdf_is_said_to_be_none(keys: Authority) -> None:
    """Bytes without structure give one clear error."""
    with pytest.raises(UnreadablePdf):
        check_pdf(b"day sheet", keys.root_pem)


def test_a_signature_after_revocation_is_not_good(tmp_path: Path) -> None:
    """Signed after the certificate was revoked: not good; signed before: still good."""
    keys = Authority.create(tmp_path / "keys", "Quillbrook Creamery", CLOSED)
    issued = keys.issue_person("ines", "Ines Alder", "operator", CLOSED)
    stolen = keys.material("ines", CLOSED)
    signed = signed_by_operator(rendered(), stolen)
    keys.revoke(issued.serial, CLOSED + timedelta(days=1))
    [before] = check_pdf(signed, keys.root_pem, keys.revoked_pem)
    assert (before.good, before.revoked_at) == (True, CLOSED + timedelta(days=1))
    keys2_list = keys.revoked_pem
    late = sign_late(rendered(), stolen)
    [after] = check_pdf(late, keys.root_pem, keys2_list)
    assert (after.unaltered, after.good) == (True, False)


def sign_late(pdf: bytes, material: SigningMaterial) -> bytes:
    """The operator's field signed two days later."""
    return sign_pdf(
        pdf,
        material,
        name="Ines Alder",
        role="operator in charge",
        reason="x",
        at=CLOSED + timedelta(days=2),
        field_name="operator",
        static_dir=STATIC,
    )


def test_a_time_outside_the_certificate_is_not_trusted(keys: Authority) -> None:
    """A signature that states a time before its certificate began does not count."""
    early = sign_pdf(
        rendered(),
        keys.material("ines", CLOSED),
        name="Ines Alder",
        role="operator",
        reason="x",
        at=CLOSED - timedelta(days=3),
        field_name="operator",
        static_dir=STATIC,
    )
    assert [(r.unaltered, r.trusted) for r in check_pdf(early, keys.root_pem)] == [(True, False)]


def test_a_field_is_signed_once(keys: Authority, once_signed: bytes) -> None:
    """Signing a signed field is refused."""
    with pytest.raises(CannotSign, match="signed already"):
        signed_by_operator(once_signed, keys.material("ines", CLOSED))


def test_a_missing_field_is_refused(keys: Authority) -> None:
    """Without the field, and without a place for a new one, nothing is signed."""
    with pytest.raises(CannotSign, match="no signature field 'supervisor'"):
        signed_by_supervisor(rendered(signature_fields=["operator"]), keys.material("wren", REVIEWED))


def test_a_new_field_can_be_placed_while_signing(keys: Authority) -> None:
    """A document without fields is signed at a given page and box."""
    signed = sign_pdf(
        rendered(signature_fields=[]),
        keys.material("wren", REVIEWED),
        name="Wren Castell",
        role="supervisor",
        reason="reviewed",
        at=REVIEWED,
        field_name="supervisor",
        static_dir=STATIC,
        new_field=NewField(page=-1, box=(50, 50, 250, 110)),
    )
    assert [report.good for report in check_pdf(signed, keys.root_pem)] == [True]


def test_text_too_long_for_its_box_is_refused(keys: Authority) -> None:
    """Nothing is clipped: smaller type first, then an error."""
    with pytest.raises(DoesNotFit):
        sign_pdf(
            rendered(),
            keys.material("ines", CLOSED),
            name="Ines Alder",
            role="operator",
            reason="x",
            at=CLOSED,
            field_name="operator",
            static_dir=STATIC,
            lines=["so much to say " * 12] * 12,
        )


def test_signing_works_inside_a_running_event_loop(keys: Authority) -> None:
    """A server or a browser test may be running a loop already."""

    async def inside() -> bytes:
        return signed_by_operator(rendered(), keys.material("ines", CLOSED))

    assert all(report.good for report in check_pdf(asyncio.run(inside()), keys.root_pem))


def test_the_key_of_another_person_gives_no_good_signature(keys: Authority) -> None:
    """A certificate with somebody else's key proves nothing."""
    mixed = dataclasses.replace(keys.material("ines", CLOSED), key_pem=keys.material("wren", CLOSED).key_pem)
    signed = signed_by_operator(rendered(), mixed)
    assert [report.good for report in check_pdf(signed, keys.root_pem)] == [False]
