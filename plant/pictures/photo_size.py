"""How large a photo is as a browser shows it: from its head, turned as its own note of the camera says."""

from __future__ import annotations

from io import BytesIO

from PIL import Image

_TURNED = frozenset({5, 6, 7, 8})  # Exif orientation, tag 0x0112: width and height change places
_ORIENTATION = 0x0112
MOST_PIXELS = 200_000_000


def photo_size(data: bytes) -> tuple[int, int] | None:
    """Width and height [pixels] of a JPEG, PNG or WebP; None for what is none of them, or damaged.

    Only the head is read; no pixel is unpacked. Source: Exif 2.3, 4.6.4, orientation (from memory).
    """
    try:
        with Image.open(BytesIO(data), formats=("JPEG", "PNG", "WEBP")) as image:
            width, height = image.size
            turned = image.getexif().get(_ORIENTATION) in _TURNED
    except Exception:  # a photo is anybody's bytes: whatever its reader stumbles over, it has no size
        return None
    if width < 1 or height < 1 or width * height > MOST_PIXELS:
        return None
    return (height, width) if turned else (width, height)
