"""The first bytes of a file -> what it is, where it is no table.

Receives bytes, hands on a sentence for the user. Magic numbers: from memory.
"""

from __future__ import annotations

import re
from typing import Final

from pruner.table.magic import ARROW, ARROW_STREAM, OLD_OFFICE, PARQUET, SQLITE

_EXPORT: Final = "export the list as CSV"
_UNPACK: Final = "unpack it first"
_MAGIC: Final = (
    (b"%PDF", "a PDF document", _EXPORT),
    (b"%!PS", "a PostScript document", _EXPORT),
    (b"{\\rtf", "a text document (RTF)", _EXPORT),
    (b"\x89PNG", "an image", _EXPORT),
    (b"GIF8", "an image", _EXPORT),
    (b"\xff\xd8\xff", "an image", _EXPORT),
    (b"II*\0", "an image", _EXPORT),
    (b"MM\0*", "an image", _EXPORT),
    (b"RIFF", "a sound, film or image", _EXPORT),
    (b"OggS", "a sound", _EXPORT),
    (b"ID3", "a sound", _EXPORT),
    (b"\x7fELF", "a program", "get the table itself"),
    (b"#!", "a script", "get the table itself"),
    (b"\xca\xfe\xba\xbe", "a program", "get the table itself"),
    (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "an old binary document", _EXPORT),
    (b"7z\xbc\xaf\x27\x1c", "a 7z archive", _UNPACK),
    (b"Rar!\x1a\x07", "a RAR archive", _UNPACK),
    (b"MSCF\0", "a cabinet archive", _UNPACK),
    (b"\x04\x22\x4d\x18", "an LZ4 archive", _UNPACK),
    (b"LZIP", "an lzip archive", _UNPACK),
    (b"\x1f\x9d", "an archive of the old compress", _UNPACK),
    (b"\xff\x06\0\0sNaPpY", "a snappy archive", _UNPACK),
    (b"\0\x01\0\0Standard ", "a database of an office program", _EXPORT),
    (b"Obj\x01", "an Avro file", "write it as CSV or Parquet"),
    (b"ORC", "an ORC file", "write it as CSV or Parquet"),
    (b"FEA1", "an old Feather file", "write it as CSV or Parquet"),
    (b"\x89HDF", "an HDF5 file", "write it as CSV or Parquet"),
    (b"BEGIN:VCARD", "a file of contact cards", _EXPORT),
    (b"BEGIN:VCALENDAR", "a calendar", _EXPORT),
    (b"-----BEGIN ", "a key, a certificate or an encrypted text", "decrypt it first"),
)
_PACKED: Final = (
    (b"\x1f\x8b", "gzip"),
    (b"\x28\xb5\x2f\xfd", "zstd"),
    (b"PK\x03\x04", "zip"),
    (b"PK\x05\x06", "zip"),
    (b"BZh", "bzip2"),
    (b"\xfd7zXZ\0", "xz"),
)
_ROWS_AND_COLUMNS: Final = (
    (PARQUET, "a Parquet file"),
    (ARROW, "an Arrow file"),
    (ARROW_STREAM, "an Arrow stream"),
    (SQLITE, "a database"),
    (OLD_OFFICE, "a workbook or document"),
)
#: Of the bytes looked at, more control characters than this share are no text.
_MOST_CONTROLS: Final = 0.02
_CONTROLS: Final = bytes(set(range(32)) - set(b"\t\n\v\f\r\x1a\x1b\x1f"))  # unit separators (ISO/IEC 646) divide cells
_HTML: Final = re.compile(rb"<(?:!doctype\s+html|html|head|body|meta|title|table|pre|(?:ss:)?workbook)\b", re.IGNORECASE)
_SECTION: Final = re.compile(rb"\s*\[{1,2}[\w .-]+\]{1,2}\s*")
_KEY: Final = re.compile(rb"\s*[A-Za-z_][\w.-]*\s*=.*")
_MARKUP: Final = re.compile(rb"\s*<[!?/a-zA-Z]")


def packing(head: bytes) -> str:
    """By what method a file is packed: gzip, zstd, zip, bzip2, xz; "" where it is not."""
    found = next((kind for magic, kind in _PACKED if head.startswith(magic)), "")
    # After BZh stand the size of the blocks and the number of pi (from the format's description, from memory).
    return "" if found == "bzip2" and not re.match(rb"BZh[1-9](?:1AY&SY|\x17rE8P\x90)", head[:10]) else found


def no_table(head: bytes) -> str:
    """What a file with this beginning is and what to do; "" where it may be a table in text."""
    for magic, name, advice in _MAGIC:
        if head.startswith(magic) and not (len(magic) < 4 and _is_plain(head)):
            return f"this is {name}; {advice}"
    if head.startswith(b"MZ") and b"\0" in head[:64]:
        return "this is a program; get the table itself"
    if head.startswith(b"BM") and b"\0\0" in head[:16]:
        return f"this is an image; {_EXPORT}"
    if head[4:8] == b"ftyp" and b"\0" in head[:4]:
        return f"this is a film or an image; {_EXPORT}"
    return ""


def is_markup(start: bytes) -> bool:
    """Whether a text in UTF-8 begins with an element of markup."""
    return _MARKUP.match(start) is not None


def is_page(start: bytes) -> bool:
    """Whether a text in UTF-8 that begins so is a page (HTML), or a part of one that is a table."""
    return is_markup(start) and _HTML.search(start[:4096]) is not None


def no_table_text(text: bytes) -> str:
    """The same of the beginning of a text in UTF-8: settings, and what has too many control characters for a text."""
    start = text[:4096]
    if is_settings(start):
        return "this is a file of settings; get the table itself"
    if len(start.translate(None, _CONTROLS)) < (1 - _MOST_CONTROLS) * len(start):
        return f"this is binary data, not a table; {_EXPORT}"
    return ""


def is_settings(start: bytes) -> bool:
    """Whether a text has sections in brackets and below them nothing but keys with values."""
    lines = [line for line in start.splitlines()[:50] if line.strip() and not line.lstrip().startswith((b"#", b";"))][:20]
    sections = sum(_SECTION.fullmatch(line) is not None for line in lines)
    keys = sum(_KEY.fullmatch(line) is not None for line in lines)
    return sections > 0 and keys >= sections and sections + keys >= len(lines) - 1


def packed_inside(head: bytes) -> str:
    """What the inside of an archive is, where it must be unpacked by hand first; "" where it may be a table."""
    kind = packing(head)
    if kind:
        return f"it is packed twice ({kind} inside an archive); unpack it once"
    name = next((name for magic, name in _ROWS_AND_COLUMNS if head.startswith(magic)), "")
    return f"the archive holds {name}; unpack it first" if name else ""


def _is_plain(head: bytes) -> bool:
    """Whether short magic numbers stand in what is plain text otherwise."""
    return not head.startswith(b"#!") and len(head[:512].translate(None, _CONTROLS)) == len(head[:512]) and b"," in head[:512]
