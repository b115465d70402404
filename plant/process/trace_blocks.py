"""A recorder's samples packed for keeping: one block an instrument and hour, lossless to the digits of the source.

Values are whole numbers of 10^-places of the source's unit; moments are whole milliseconds since 1970 UTC. Differences
from one sample to the next are split into planes of bytes (all low bytes together, then the next) and compressed with
zlib (RFC 1950): noise stays in the low plane, the others are nearly empty. A sample whose sensor said that it failed
has a moment and no value.

The first three bytes say which form a block has. "TB2" is written: its head ends with a checksum of everything else, so
that no bit of head or samples changes unnoticed. "TB1", of earlier records, is read for good; there only the ledger's
hash of the block guards the head.
"""

from __future__ import annotations

import struct
import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from plant.process.arrays import BoolArray
from plant.process.errors import CalculationError, OutsideRange, within
from plant.process.said import say as _

__all__ = ["MOST_PLACES", "MOST_SAMPLES", "Samples", "pack", "unpack"]

Whole = NDArray[np.int64]
MOST_SAMPLES = 3_600_000  # an hour at one sample a millisecond
MOST_PLACES = 6
_FIRST_FORM, _FORM = b"TB1", b"TB2"
_HEAD = struct.Struct("<3sBIqq")  # form, places, samples, first moment [ms], regular step [ms] or 0
_CHECK = struct.Struct("<I")  # CRC-32 of the head before it and of all that follows it
_PLANES = 8


@dataclass(frozen=True, slots=True)
class Samples:
    """Samples of one channel: `times_ms` [ms] rising, shape (n,); `values` [10^-places of the unit], shape (n,).

    `failed` (n,) marks those without a value (there `values` is 0).
    """

    times_ms: Whole
    values: Whole
    failed: BoolArray
    places: int

    def __len__(self) -> int:
        return len(self.times_ms)


def pack(samples: Samples) -> bytes:
    """The bytes of a block.

    Range: 1 to 3,600,000 samples, 0 to 6 places; moments and values whole numbers of 64 bits.
    Raises: OutsideRange outside it, CalculationError for moments that do not rise, arrays of different lengths, or
    numbers that are not whole.
    Source: the project's own form (see the module); zlib and its CRC-32, RFC 1950 and 1952.

    >>> one = Samples(np.array([0, 1000]), np.array([7166, 7170]), np.array([False, False]), 2)
    >>> unpack(pack(one)).values.tolist()
    [7166, 7170]
    """
    count = len(samples)
    within("samples", count, 1, MOST_SAMPLES)
    places = _whole_places(samples.places)
    if not (samples.values.shape == samples.failed.shape == samples.times_ms.shape == (count,)):
        raise CalculationError(_("each sample needs a moment, a value and a mark"))
    times, values, failed = _whole(samples.times_ms), _whole(samples.values), _marks(samples.failed)
    if (times[1:] <= times[:-1]).any():
        raise CalculationError(_("the moments of a trace must rise"))
    steps: Whole = times[1:] - times[:-1]
    regular = int(steps[0]) if count > 1 and (steps == steps[0]).all() else 0
    parts = [] if regular or count == 1 else [_planes(steps)]
    parts.append(_planes(_zigzag(np.concatenate([values[:1], values[1:] - values[:-1]]))))
    parts.append(np.packbits(failed).tobytes() if failed.any() else b"")
    head, body = _HEAD.pack(_FORM, places, count, int(times[0]), regular), _deflated(b"".join(parts))
    return head + _checksum(head, body) + body


def unpack(block: bytes) -> Samples:
    """The samples of a block, exactly as they were packed.

    Raises: CalculationError for bytes that are no block, or a damaged one.
    Source: as pack.

    >>> unpack(pack(Samples(np.array([5]), np.array([-1]), np.array([True]), 0))).failed.tolist()
    [True]
    """
    if len(block) < _HEAD.size or block[:3] not in (_FIRST_FORM, _FORM):
        raise CalculationError(_("these bytes are no block of samples"))
    head, body = block[: _HEAD.size], block[_HEAD.size :]
    if block[:3] == _FORM:
        check, body = body[: _CHECK.size], body[_CHECK.size :]
        if check != _checksum(head, body):
            raise CalculationError(_("this block of samples is damaged"))
    _form, places, count, first, regular = _HEAD.unpack(head)
    if not 1 <= count <= MOST_SAMPLES or places > MOST_PLACES:
        raise CalculationError(_("these bytes are no block of samples"))
    plain = _inflated(body, count)
    steps, at = (
        (np.full(count - 1, regular, np.int64), 0) if regular or count == 1 else _from_planes(plain, count - 1, 0)
    )
    coded, at = _from_planes(plain, count, at)
    failed = np.zeros(count, np.bool_)
    if at < len(plain):
        failed = np.unpackbits(np.frombuffer(plain, np.uint8, offset=at), count=count).astype(np.bool_)
    times = np.concatenate([[first], first + np.cumsum(steps)]).astype(np.int64)
    if (times[1:] <= times[:-1]).any():
        raise CalculationError(_("this block of samples is damaged"))
    return Samples(times, np.cumsum(_unzigzag(coded)), failed, places)


def _whole_places(places: int) -> int:
    if within("decimal places", places, 0, MOST_PLACES) != int(places):
        raise OutsideRange(_("whole number of decimal places"), places, 0, MOST_PLACES)
    return int(places)


def _whole(numbers: Whole) -> Whole:
    """As numbers of 64 bits; what would be cut on the way is refused."""
    kind = numbers.dtype.kind
    if kind not in "iu" or (kind == "u" and (numbers > np.iinfo(np.int64).max).any()):
        raise CalculationError(_("moments and values of a block are whole numbers of 64 bits"))
    return numbers.astype(np.int64)


def _marks(failed: BoolArray) -> BoolArray:
    if failed.dtype.kind != "b":
        raise CalculationError(_("a sample's mark says yes or no"))
    return failed


def _checksum(head: bytes, body: bytes) -> bytes:
    return _CHECK.pack(zlib.crc32(body, zlib.crc32(head)))


def _deflated(plain: bytes) -> bytes:
    # Differences of noise hold no repeats to look for, only runs of one byte: smaller than at level 9, and faster.
    engine = zlib.compressobj(6, zlib.DEFLATED, zlib.MAX_WBITS, 9, zlib.Z_RLE)
    return engine.compress(plain) + engine.flush()


def _inflated(packed: bytes, count: int) -> bytes:
    most = (
        2 * (1 + _PLANES * count) + count // 8 + 1
    )  # a block that claims more is no block: nothing is inflated for it
    try:
        engine = zlib.decompressobj()
        plain = engine.decompress(packed, most + 1)
    except zlib.error as error:
        raise CalculationError(_("this block of samples is damaged")) from error
    if len(plain) > most or not engine.eof or engine.unused_data:
        raise CalculationError(_("this block of samples is damaged"))
    return plain


def _zigzag(values: Whole) -> Whole:
    # Small differences of either sign become small numbers without one.
    return (values << 1) ^ (values >> 63)


def _unzigzag(values: Whole) -> Whole:
    unsigned = values.view(np.uint64)
    return (unsigned >> np.uint64(1)).view(np.int64) ^ -(values & 1)


def _planes(values: Whole) -> bytes:
    """How many planes of bytes follow, then the planes, the low one first."""
    plain = np.ascontiguousarray(values, dtype="<i8")
    highest = int(np.bitwise_or.reduce(plain.view("<u8"))) if len(plain) else 0
    used = max((highest.bit_length() + 7) // 8, 1)
    table = plain.view(np.uint8).reshape(-1, _PLANES)
    return bytes([used]) + table[:, :used].T.tobytes()


def _from_planes(plain: bytes, count: int, at: int) -> tuple[Whole, int]:
    used = plain[at] if at < len(plain) else 0
    end = at + 1 + used * count
    if not 1 <= used <= _PLANES or end > len(plain):
        raise CalculationError(_("this block of samples is damaged"))
    planes = np.frombuffer(plain, np.uint8, used * count, at + 1).reshape(used, count)
    values = planes[0].astype(np.int64)
    for place, one in enumerate(planes[1:], 1):
        values |= one.astype(np.int64) << (8 * place)
    return values, end
