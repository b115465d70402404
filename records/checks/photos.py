"""Photos that come with a reading: only pictures, by what their bytes say."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, TypedDict

from django import forms
from django.utils.translation import gettext as _

from records.ledger import files

# The first bytes of the pictures that tablets and phones take.
STARTS = ((b"\xff\xd8\xff", "image/jpeg"), (b"\x89PNG\r\n\x1a\n", "image/png"))
HEIC = (b"heic", b"heix", b"mif1", b"msf1", b"hevc")


@dataclass(frozen=True, slots=True)
class Photo:
    """A picture as sent."""

    data: bytes
    name: str
    mime: str


class Kept(TypedDict, total=False):
    """What a reading keeps of it."""

    file: str
    file_name: str
    file_mime: str


def kind_of(data: bytes) -> str:
    """The picture's type by its first bytes; empty for anything else."""
    for start, mime in STARTS:
        if data.startswith(start):
            return mime
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "image/webp"
    return "image/heic" if data[4:8] == b"ftyp" and data[8:12] in HEIC else ""


def shows(mime: str) -> bool:
    """Whether a browser can be counted on to draw it inside a page; any other kind is offered as a file."""
    return mime in ("image/jpeg", "image/png", "image/webp")


def read(sent: Any) -> Photo | None:
    """The picture of an upload; ValidationError says what is wrong with it."""
    if not sent:
        return None
    if sent.size > files.LARGEST:
        most = files.LARGEST // (1024 * 1024)
        raise forms.ValidationError(_("The photo is larger than %(most)s MB.") % {"most": most})
    data = sent.read()
    mime = kind_of(data)
    if not mime:
        raise forms.ValidationError(_("This file is no photo that can be kept. Take it as JPEG or PNG."))
    return Photo(data, sent.name or "photo", mime)


def put(photo: Photo | None) -> Kept:
    """Keep the bytes under their hash; the act that follows writes the entry."""
    if photo is None:
        return {}
    return {"file": files.put(photo.data), "file_name": photo.name, "file_mime": photo.mime}
