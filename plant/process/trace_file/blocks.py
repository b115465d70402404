"""A file as blocks of whole lines in UTF-8, a mebibyte or so at a time; what is no text is refused."""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterable, Iterator
from typing import BinaryIO, NamedTuple

from plant.process.said import Said
from plant.process.said import say as _
from plant.process.trace_file.refusals import FileRefused, label

BLOCK = 1 << 20
_HEAD = 4096  # bytes that show what is no text
MOST_LINE = 100_000  # bytes; a row of 500 channels has about 5,000
BYTE_ORDER_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
_MS_DOS_END = b"\x1a"
# The first bytes of what people upload by mistake (file signatures, from memory).
_PICTURES = (b"\xff\xd8\xff", b"\x89PNG", b"GIF8", b"RIFF", b"BM", b"II*\0", b"MM\0*", b"\0\0\0 ftyp")
_PACKED = (b"PK\x03\x04", b"PK\x05\x06", b"\x1f\x8b", b"7z\xbc\xaf", b"Rar!", b"BZh", b"\xfd7zXZ", b"\x28\xb5\x2f\xfd")
_DOCUMENTS = (b"%PDF", b"\xd0\xcf\x11\xe0", b"{\\rtf")
_CONTROLS = re.compile(rb"[\0-\x08\x0e-\x19\x1c-\x1f\x7f]")


class Block(NamedTuple):
    """Whole lines, each ending in a line feed, from line `row` (from 1) on. The file's last line may lack its end."""

    data: bytes
    row: int


def blocks(stream: BinaryIO, encoding: str, delimiter: str, size: int = BLOCK) -> Iterator[Block]:
    """A file's lines from where the stream stands, all line ends made line feeds; `size` bytes are read at a time.

    A byte order mark outweighs `encoding`. Nothing is inflated.

    Range: lines of up to 100,000 bytes.
    Raises: FileRefused for an empty file, for one that is no text, for bytes that are not in the encoding, for a NUL
    byte and for a line that is longer.
    """
    pending, row = b"", 1
    for part in _lines(stream, encoding, size):
        data, why = (part, None) if isinstance(part, bytes) else (b"", part)
        nul = data.find(b"\0")
        if nul >= 0:
            data, why = data[:nul], _("there is a NUL byte, which no text has; the file is damaged")
        pending = pending + data if pending else data
        long = _too_long(pending)
        if long >= 0:
            pending, why = pending[:long], _("this line is longer than any that a recorder writes")
        cut = pending.rfind(b"\n") + 1
        if cut:  # what stands before a fault is read first: it may have one of its own
            block, pending = pending[:cut], pending[cut:]
            yield Block(block, row)
            row += block.count(b"\n")
        if why is not None:
            raise FileRefused(why, row, "" if long >= 0 else label(column_at(pending, delimiter)))
    pending = pending.rstrip(_MS_DOS_END)
    if pending:
        yield Block(pending, row)


def no_text(head: bytes) -> Said | None:
    """What a file is, by its first bytes, when it is no text; None for what may be one."""
    if not head:
        return _("the file is empty")
    if head.startswith(_PACKED):
        return _("this is a packed file or a workbook; unpack it, or save the sheet as CSV, and give that")
    if head.startswith(_PICTURES) and _CONTROLS.search(head[:_HEAD]):
        return _("this is a picture or a recording, not a table of readings")
    if head.startswith(_DOCUMENTS):
        return _("this is a document, not a table of readings; save the readings as CSV")
    marked = head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    if not marked and len(_CONTROLS.findall(head[:_HEAD].replace(b"\0", b""))) > len(head[:_HEAD]) // 100:
        return _("this is no text, and so no table of readings")
    return None


def column_at(line: bytes, delimiter: str) -> int:
    """In which column (from 0) a line ends that was cut off."""
    return len((line + b".").split()) - 1 if delimiter == " " else line.count(delimiter.encode())


def _too_long(data: bytes) -> int:
    """Where the first line begins that is too long; -1 for none."""
    at = 0
    while len(data) - at > MOST_LINE:
        end = data.rfind(b"\n", at, at + MOST_LINE + 1)
        if end < 0:
            return at
        at = end + 1
    return -1


def _lines(stream: BinaryIO, encoding: str, size: int) -> Iterator[bytes | Said]:
    """The bytes in UTF-8, without the byte order mark, with line feeds; a fault in them is the last that comes."""
    raw = stream.read(_HEAD)
    why = no_text(raw)
    if why is not None:
        raise FileRefused(why)
    for mark, marked in BYTE_ORDER_MARKS:
        if raw.startswith(mark):
            raw, encoding = raw[len(mark) :], marked
            break
    if encoding == "utf-16":  # which of the two only its mark can say
        raise FileRefused(_not_in(encoding), 1)

    def rest() -> Iterator[bytes]:
        yield from (raw[at : at + size] for at in range(0, len(raw), size))
        while part := stream.read(size):
            yield part

    if encoding.startswith("utf-16"):
        return _normalized(_recoded(rest(), encoding))
    return _recoded(_normalized(rest()), encoding)


def _not_in(encoding: str) -> Said:
    return _("these bytes are not in the encoding %(name)s", name=encoding)


def _recoded(parts: Iterable[bytes | Said], encoding: str) -> Iterator[bytes | Said]:
    decoder = codecs.getincrementaldecoder(encoding)("strict")
    plain = not encoding.startswith("utf-16")
    for part in parts:
        # Most blocks are ASCII: nothing to do, as long as no character of several bytes is half read.
        if not isinstance(part, bytes) or (plain and part.isascii() and not decoder.getstate()[0]):
            yield part
            continue
        try:
            yield decoder.decode(part).encode()
        except UnicodeDecodeError as error:
            yield error.object[: error.start].decode(encoding).encode()
            yield _not_in(encoding)
            return
    try:
        decoder.decode(b"", True)
    except UnicodeDecodeError:
        yield _("the file ends within a character; it was cut off")


def _normalized(parts: Iterable[bytes | Said]) -> Iterator[bytes | Said]:
    """Line ends CR LF and CR made LF, also where the pair falls into two parts."""
    held = b""
    for part in parts:
        if not isinstance(part, bytes):
            yield held.replace(b"\r", b"\n")
            yield part
            return
        data, held = held + part, b""
        if b"\r" in data:
            if data.endswith(b"\r"):
                data, held = data[:-1], b"\r"
            data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        if data:
            yield data
    if held:
        yield b"\n"
