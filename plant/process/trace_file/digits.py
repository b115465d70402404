"""Many plain numbers in a row of bytes read at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from plant.process.arrays import BoolArray
from plant.process.trace_blocks import MOST_PLACES

Bytes = NDArray[np.uint8]
At = NDArray[np.intp]
Whole = NDArray[np.int64]
Places = NDArray[np.int8]

_ZERO, _MINUS, _PLUS, _BLANK = 48, 45, 43, 32
_PADDING = 16  # more blanks than this before or behind a cell leave it to the other way of reading
_IN_32_BITS = 9  # digits


def trimmed(data: Bytes, starts: At, ends: At) -> tuple[At, At]:
    """The cells without the blanks before and behind them."""
    for _turn in range(_PADDING):
        padded = (data[starts] == _BLANK) & (starts < ends)
        if not padded.any():
            break
        starts = starts + padded
    for _turn in range(_PADDING):
        padded = (data[ends - 1] == _BLANK) & (starts < ends)
        if not padded.any():
            break
        ends = ends - padded
    return starts, ends


def window(data: Bytes, starts: At, width: int) -> Bytes:
    """The bytes of n texts of one width, turned: shape (width, n)."""
    if not width:
        return np.zeros((0, len(starts)), np.uint8)
    texts = np.lib.stride_tricks.as_strided(data, (len(data) - width + 1, width), (1, 1), writeable=False)
    return np.ascontiguousarray(texts[starts].T)


def numbers(data: Bytes, starts: At, ends: At, mark: str, whole_digits: int) -> tuple[Whole, Places, BoolArray]:
    """The plain numbers in n cells: values [10^-places], places, and which cells hold one.

    Plain: a sign or none, 1 to `whole_digits` digits, or these, the mark and 1 to 6 digits. All arrays of shape (n,).
    `data` begins and ends with more bytes that belong to no cell than a number has digits.
    """
    count = len(starts)
    values, places = np.zeros(count, np.int64), np.zeros(count, np.int8)
    if not count:
        return values, places, np.zeros(0, np.bool_)
    first = data[starts]
    negative = first == _MINUS
    starts = starts + (negative | (first == _PLUS))
    widths = ends - starts
    length = int(min(max(int(widths.max()), 1), whole_digits + MOST_PLACES + 1))
    texts = window(data, ends - length, length)
    for at in range(max(length - max(int(widths.min()), 0), 0)):
        texts[at][widths < length - at] = _ZERO  # what stands before the cell
    digits = texts - _ZERO
    others = np.full(count, length, np.uint8)
    for one in digits:
        others -= one <= 9
    good = np.zeros(count, np.bool_)
    for place in range(max(min(MOST_PLACES, length - 2), 0) + 1):
        if place:
            marked = (texts[length - 1 - place] == ord(mark)) & (others == 1) & (widths >= place + 2)
            marked &= widths <= whole_digits + place + 1
            rows = np.delete(digits, length - 1 - place, axis=0) if marked.any() else digits
        else:
            marked, rows = (others == 0) & (widths >= 1) & (widths <= whole_digits), digits
        if marked.all():
            values, places[:], good = _joined(rows), place, marked
            break
        if marked.any():
            values[marked], places[marked] = _joined(rows[:, marked]), place
            good |= marked
    np.negative(values, out=values, where=negative)
    return values, places, good


def _joined(rows: Bytes) -> Whole:
    total = rows[0].astype(np.int32 if len(rows) <= _IN_32_BITS else np.int64)
    for one in rows[1:]:
        total *= 10
        total += one
    return np.asarray(total, np.int64)
