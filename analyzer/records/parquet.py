"""A table of numbers as a Parquet file, without a library of tables: to load one takes as long as to review five logs.

There is one row group, and of each column one page. Bytes of the same rank stand together (BYTE_STREAM_SPLIT) and are
packed as gzip, by which columns of recorders take less room than by a dictionary and zstd. The numbers of fields and
types are those of ``parquet.thrift`` in the format's specification, in Thrift's compact protocol.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, NewType

import numpy as np

from analyzer.records.files import packed

if TYPE_CHECKING:
    from numpy.typing import NDArray

    #: Float64 with NaN where a value is missing, or moments in microseconds with NaT there.
    Values = NDArray[np.float64] | NDArray[np.datetime64]

#: A file begins and ends with it.
_MAGIC = b"PAR1"
#: Types of Thrift's compact protocol.
_TRUE, _FALSE, _I32, _I64, _BINARY, _LIST, _STRUCT = 1, 2, 5, 6, 8, 9, 12
#: Enumerations of the format.
_INT64, _DOUBLE = 2, 5
_OPTIONAL = 1
_GZIP = 2
_RLE, _BYTE_STREAM_SPLIT = 3, 9
_DATA_PAGE = 0

#: A value in Thrift's compact protocol, with its type.
_Coded = NewType("_Coded", tuple[int, bytes])


def parquet(columns: Mapping[str, Values], told: Mapping[str, str]) -> bytes:
    """Give a table as a file; the same table always gives the same bytes.

    Parameters
    ----------
    columns : by name, all of one length
    told : what the file says of the table
    """
    rows = len(next(iter(columns.values())))
    parts, described, at, whole = [_MAGIC], [], len(_MAGIC), 0
    for name, values in columns.items():
        page, unpacked, chunk = _column(name, values, at)
        parts.append(page)
        described.append(chunk)
        at += len(page)
        whole += unpacked
    group = _struct({1: _list(_STRUCT, described), 2: _i64(whole), 3: _i64(rows), 6: _i64(at - len(_MAGIC))})
    schema = [_struct({4: _text("root"), 5: _i32(len(columns))}), *map(_element, columns, columns.values())]
    footer = _struct({
        1: _i32(1), 2: _list(_STRUCT, schema), 3: _i64(rows), 4: _list(_STRUCT, [group]),
        5: _list(_STRUCT, [_struct({1: _text(key), 2: _text(value)}) for key, value in told.items()]),
        7: _list(_STRUCT, [_struct({1: _struct({})})] * len(columns)),  # smallest and largest: in the types' own order
    })[1]  # fmt: skip
    return b"".join([*parts, footer, len(footer).to_bytes(4, "little"), _MAGIC])


def _element(name: str, values: Values) -> _Coded:
    """A column in the schema."""
    if _kind(values) == _DOUBLE:
        return _struct({1: _i32(_DOUBLE), 3: _i32(_OPTIONAL), 4: _text(name)})
    microseconds = _struct({2: _struct({})})
    of_no_zone = _struct({8: _struct({1: _truth(False), 2: microseconds})})
    return _struct({1: _i32(_INT64), 3: _i32(_OPTIONAL), 4: _text(name), 10: of_no_zone})


def _column(name: str, values: Values, at: int) -> tuple[bytes, int, _Coded]:
    """A column's page as it is written at some place, its size unpacked, and what is said of it at the file's end."""
    missing = np.isnat(values) if _kind(values) == _INT64 else np.isnan(values)
    present = values[~missing] if missing.any() else values
    plain = _levels(missing) + np.ascontiguousarray(present).view(np.uint8).reshape(-1, 8).T.tobytes()
    data = packed(plain)
    of_page = _struct({1: _i32(len(values)), 2: _i32(_BYTE_STREAM_SPLIT), 3: _i32(_RLE), 4: _i32(_RLE)})
    header = _struct({1: _i32(_DATA_PAGE), 2: _i32(len(plain)), 3: _i32(len(data)), 5: of_page})[1]
    unpacked = len(header) + len(plain)
    chunk = _struct({
        1: _i32(_kind(values)), 2: _list(_I32, [_i32(_RLE), _i32(_BYTE_STREAM_SPLIT)]),
        3: _list(_BINARY, [_text(name)]), 4: _i32(_GZIP), 5: _i64(len(values)),
        6: _i64(unpacked), 7: _i64(len(header) + len(data)), 9: _i64(at),
        12: _statistics(present, int(np.count_nonzero(missing))),
    })  # fmt: skip
    return header + data, unpacked, _struct({2: _i64(0), 3: chunk})


def _kind(values: Values) -> int:
    return _DOUBLE if values.dtype == np.float64 else _INT64


def _levels(missing: NDArray[np.bool_]) -> bytes:
    """Which rows hold a value: one run where all or none do, else a bit each; its length goes before."""
    if not missing.any() or missing.all():
        runs = _varint(len(missing) << 1) + bytes([not missing.any()])
    else:
        bits = np.packbits(~missing, bitorder="little").tobytes()
        runs = _varint(len(bits) << 1 | 1) + bits
    return len(runs).to_bytes(4, "little") + runs


def _statistics(present: Values, missing: int) -> _Coded:
    """How many values are missing, the largest and the smallest; of zeros either sign counts as both."""
    if not len(present):
        return _struct({3: _i64(missing)})
    largest, smallest = present.max(), present.min()
    if present.dtype == np.float64:
        largest, smallest = np.float64(largest or 0.0), np.float64(smallest or -0.0)
    return _struct({3: _i64(missing), 5: _bytes(largest.tobytes()), 6: _bytes(smallest.tobytes())})


def _struct(fields: Mapping[int, _Coded]) -> _Coded:
    """A struct by its fields' numbers, in order; true and false stand in the field's type."""
    parts, before = [], 0
    for number, (kind, data) in fields.items():
        parts += [bytes([(number - before) << 4 | kind]), data]
        before = number
    return _Coded((_STRUCT, b"".join([*parts, b"\0"])))


def _list(kind: int, items: Iterable[_Coded]) -> _Coded:
    data = [item for _, item in items]
    begin = bytes([len(data) << 4 | kind]) if len(data) < 15 else bytes([0xF0 | kind]) + _varint(len(data))
    return _Coded((_LIST, b"".join([begin, *data])))


def _i32(value: int) -> _Coded:
    return _Coded((_I32, _varint(value << 1)))


def _i64(value: int) -> _Coded:
    return _Coded((_I64, _varint(value << 1)))


def _truth(value: bool) -> _Coded:
    return _Coded((_TRUE if value else _FALSE, b""))


def _text(value: str) -> _Coded:
    return _bytes(value.encode())


def _bytes(value: bytes) -> _Coded:
    return _Coded((_BINARY, _varint(len(value)) + value))


def _varint(value: int) -> bytes:
    """A number that is not negative: seven bits a byte, the lowest first."""
    parts = bytearray()
    while value > 0x7F:
        parts.append(value & 0x7F | 0x80)
        value >>= 7
    return bytes([*parts, value])
