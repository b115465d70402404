"""Files that somebody sent and has not said how to read yet: on disk beside the kept files, a day at most."""

from __future__ import annotations

import hashlib
import os
import shutil
import tempfile
import uuid
from collections.abc import Iterable
from datetime import timedelta
from pathlib import Path
from typing import BinaryIO

from django.conf import settings
from django.utils.translation import gettext as _
from isal import igzip

from plant import clock
from records.deviations.errors import Refused
from records.ledger import files
from records.ledger.actions import Actor
from records.traces.models import TraceUpload

LARGEST = 400 * 1024 * 1024  # of a file as it comes
STALE = timedelta(hours=24)
_PIECE = 1 << 20


def receive(by: Actor, name: str, pieces: Iterable[bytes]) -> TraceUpload:
    """Write a sent file to disk, piece by piece. Raises Refused for an empty one and one that is too large."""
    forget_stale()
    folder = _folder()
    digest, size = hashlib.sha256(), 0
    one = uuid.uuid4()
    path = folder / str(one)
    try:
        with path.open("xb") as file:
            for piece in pieces:
                size += len(piece)
                if size > LARGEST:
                    most = LARGEST // (1024 * 1024)
                    raise Refused(_("The file is larger than %(most)s MB. Give it in parts.") % {"most": most}, "file")
                digest.update(piece)
                file.write(piece)
            file.flush()
            os.fsync(file.fileno())
        if not size:
            raise Refused(_("The file is empty."), "file")
        return TraceUpload.objects.create(
            id=one,
            name=files.printable_name(name),
            size=size,
            sha256=digest.hexdigest(),
            at=clock.now(),
            by_id=by.person_id,
        )
    except BaseException:
        path.unlink(missing_ok=True)
        raise


def receive_path(by: Actor, path: Path) -> TraceUpload:
    """A file of this machine, copied in pieces. Raises OSError, and Refused as `receive`."""
    with path.open("rb") as file:
        return receive(by, path.name, iter(lambda: file.read(_PIECE), b""))


def open_upload(upload: TraceUpload) -> BinaryIO:
    """The sent file, to be read. Raises Refused when it is gone."""
    try:
        return (_folder() / str(upload.id)).open("rb")
    except FileNotFoundError:
        raise Refused(_("The file is no longer here: send it again."), "file") from None


def head_and_tail(upload: TraceUpload, head: int, tail: int) -> tuple[bytes, bytes]:
    """The first bytes of a sent file, and the last ones."""
    with open_upload(upload) as file:
        first = file.read(head)
        file.seek(max(0, upload.size - tail))
        return first, file.read(tail)


def compress(upload: TraceUpload) -> str:
    """Keep the sent file compressed under the hash of what is kept; the same file gives the same bytes (RFC 1952)."""
    descriptor, temporary = tempfile.mkstemp(dir=_folder(), prefix=".new-")
    try:
        with (
            os.fdopen(descriptor, "wb") as target,
            _packing(target) as packed,
            open_upload(upload) as plain,
        ):
            shutil.copyfileobj(plain, packed, _PIECE)
        return files.put_file(Path(temporary))
    except BaseException:
        Path(temporary).unlink(missing_ok=True)
        raise


def _packing(target: BinaryIO) -> igzip.IGzipFile:
    # gzip as RFC 1952 has it, five times faster than zlib's own at its fastest, and smaller.
    return igzip.IGzipFile(  # type: ignore[no-untyped-call]
        filename="", mode="wb", fileobj=target, compresslevel=1, mtime=0
    )


def forget(upload: TraceUpload) -> None:
    """The sent file has done its work."""
    (_folder() / str(upload.id)).unlink(missing_ok=True)
    TraceUpload.objects.filter(id=upload.id).delete()


def forget_stale() -> None:
    """What nobody went on with for a day."""
    for one in TraceUpload.objects.filter(at__lt=clock.now() - STALE):
        forget(one)


def _folder() -> Path:
    folder = Path(settings.FILES_DIR) / "incoming"
    folder.mkdir(mode=0o750, parents=True, exist_ok=True)
    return folder
