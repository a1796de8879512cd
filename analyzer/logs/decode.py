"""Bytes become text: encoding, zero bytes, line ends, and what is no text at all."""

from __future__ import annotations

import codecs

import numpy as np
from msgspec import Struct

from analyzer.logs.log import RefusedError

SNIFF = 65536  # bytes looked at to tell text from other things
MAX_CONTROL_SHARE = 0.02  # of control characters that a text may hold
_CONTROL = bytes((*range(1, 9), 11, *range(14, 32), 127))
TORN = "\ufffd".encode()  # stands where zero bytes tore a cell apart

_MAGIC = (
    (b"\x89PNG", "a PNG image"),
    (b"\xff\xd8\xff", "a JPEG image"),
    (b"GIF8", "a GIF image"),
    (b"BM", "a bitmap image"),
    (b"%PDF", "a PDF document"),
    (b"PK\x03\x04", "a zip archive or a spreadsheet workbook"),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet workbook"),
    (b"\x1f\x8b", "gzip-compressed data"),
    (b"BZh", "bzip2-compressed data"),
    (b"\xfd7zXZ", "xz-compressed data"),
    (b"7z\xbc\xaf", "a 7z archive"),
    (b"SQLite format 3", "a database file"),
    (b"PAR1", "a Parquet file"),
    (b"\x7fELF", "a program"),
    (b"MZ\x90", "a program"),
)
_BOMS = (
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)


class Text(Struct, frozen=True):
    """A log's text as UTF-8 bytes without zero bytes; lines end in ``\\n``, or all in ``\\r\\n``."""

    data: bytes
    encoding: str
    warnings: tuple[str, ...]


def decode(raw: bytes) -> Text:
    """Decode a log's bytes.

    Raises
    ------
    RefusedError
        If there is nothing in it, or something that is no text, with the sentence that says so.
    """
    blanks = b"\x00 \t\r\n\x1a\xef\xbb\xbf\xff\xfe"
    if not raw[:SNIFF].strip(blanks) and not raw.strip(blanks):
        nothing = "0 bytes" if not raw else "nothing but blanks or zero bytes"
        raise RefusedError(f"The file is empty ({nothing}); export the log from the recorder again.")
    data, encoding, warnings = _to_utf8(raw)
    if b"\x00" in data:
        data, warning = _without_zero_bytes(data)
        warnings.append(warning)
    if data.endswith(b"\x1a"):
        data = data.rstrip(b"\x1a")
    _refuse_other_things(data)
    return Text(_line_ends(data), encoding, tuple(warnings))


def _to_utf8(raw: bytes) -> tuple[bytes, str, list[str]]:
    for bom, encoding in _BOMS:
        if raw.startswith(bom):
            body = raw[len(bom) :]
            if encoding == "utf-8-sig":
                data, encoding, warnings = _eight_bit(body)
                return data, "utf-8-sig" if encoding == "utf-8" else encoding, warnings
            return body.decode(encoding, "replace").encode(), encoding, []
    for magic, kind in _MAGIC:
        if raw.startswith(magic) and not (magic == b"BM" and raw[:SNIFF].isascii() and b"\0" not in raw[:SNIFF]):
            raise RefusedError(
                f"This is {kind}, a binary file and not a text; export the log as CSV and give that file."
            )
    if encoding_16 := _sixteen_bit(raw[:SNIFF]):
        return raw.decode(encoding_16, "replace").encode(), encoding_16, []
    return _eight_bit(raw)


def _sixteen_bit(head: bytes) -> str | None:
    """UTF-16 without a byte order mark: nearly every other byte is zero."""
    half = len(head) // 2
    if half < 8 or b"\x00" not in head[:200]:
        return None
    even, odd = head[0 : 2 * half : 2].count(0), head[1 : 2 * half : 2].count(0)
    if odd > 0.7 * half and even < 0.1 * half:
        return "utf-16-le"
    if even > 0.7 * half and odd < 0.1 * half:
        return "utf-16-be"
    return None


def _eight_bit(raw: bytes) -> tuple[bytes, str, list[str]]:
    rest = np.frombuffer(raw, dtype=np.uint8)[SNIFF:]
    only_head = not len(rest) or rest.max() < 0x80  # as usual: the degree signs of the header
    try:
        (raw[: SNIFF + 4] if only_head else raw).decode("utf-8")
    except UnicodeDecodeError as error:
        high = sum(1 for byte in raw[:SNIFF] if byte > 0x7F)
        broken = raw.decode("utf-8", "replace")
        whole = sum(1 for c in broken[:SNIFF] if c > "\x7f" and c != "\ufffd")
        if whole > broken[:SNIFF].count("\ufffd") and whole > high / 4:
            line = raw.count(b"\n", 0, error.start) + 1
            return (
                broken.encode(),
                "utf-8",
                [f"row {line}: bytes that are not UTF-8 text; read as unknown characters"],
            )
        codec = "cp1252" if any(0x80 <= byte < 0xA0 for byte in raw[:SNIFF]) else "latin-1"
        try:
            return raw.decode(codec).encode(), codec, []
        except UnicodeDecodeError:
            return raw.decode("latin-1").encode(), "latin-1", []
    return raw, "utf-8", []


def _without_zero_bytes(data: bytes) -> tuple[bytes, str]:
    """Zero bytes out: at the ends of lines without a trace, inside a line with a mark on the torn cell."""
    lines = data.split(b"\n")
    holding = [i for i, line in enumerate(lines) if b"\x00" in line]
    padding = len(holding) > 0.05 * len(lines) and len(holding) > 3
    for i in holding:
        inside = lines[i].strip(b"\x00\r")
        end = b"\r" if lines[i].endswith(b"\r") else b""
        if padding:
            lines[i] = inside.replace(b"\x00", b"") + end
        else:
            parts = [part for part in inside.split(b"\x00") if part]
            lines[i] = TORN.join(parts) + end
    where = f"row {holding[0] + 1}" if len(holding) == 1 else f"rows {holding[0] + 1} to {holding[-1] + 1}"
    count = data.count(b"\x00")
    return b"\n".join(lines), f"{where}: {count} zero bytes (NUL padding, as a power cut leaves); passed over"


def _refuse_other_things(data: bytes) -> None:
    head = data[:SNIFF]
    control = len(head) - len(head.translate(None, _CONTROL))
    if control > MAX_CONTROL_SHARE * len(head):
        raise RefusedError(
            "This is a binary file and not a text: it is full of control characters; export the log as CSV."
        )
    start = head.lstrip()[:1024].lower()
    if start.startswith((b"<!doctype html", b"<html")) or (start.startswith(b"<") and b"<html" in start):
        raise RefusedError(
            "This is a web page (HTML), not a CSV log: the download was probably a sign-in or error page; "
            "download the log again."
        )
    if start.startswith((b"<?xml", b"<gpx", b"<kml")):
        raise RefusedError("This is an XML document, not a CSV log; export the log as CSV and give that file.")
    if start.startswith((b'{"', b"{\n", b'[{"', b"[\n", b"[{")):
        raise RefusedError("This is a JSON document, not a CSV log; export the log as CSV and give that file.")


def _line_ends(data: bytes) -> bytes:
    """Line ends of other systems become ``\\n``; where all are ``\\r\\n`` they may stay."""
    if b"\r" not in data:
        return data
    array, head = np.frombuffer(data, dtype=np.uint8), data[:SNIFF].removesuffix(b"\r")
    pairs = head.count(b"\r\n")
    usual = pairs == head.count(b"\r") == head.count(b"\n") and b"\r\r" not in head
    if usual and np.count_nonzero(array == ord("\r")) == np.count_nonzero(array == ord("\n")):
        return data
    return data.replace(b"\r\r\n", b"\n").replace(b"\r\n", b"\n").replace(b"\r", b"\n")
