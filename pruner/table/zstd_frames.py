"""Whether a zstd file is whole.

Receives an open file, hands on a yes or no. Nothing is unpacked: frames and blocks carry their lengths.
"""

from __future__ import annotations

from typing import IO, Final

# RFC 8878, section 3.1: magic numbers, frame header descriptor, block header.
_FRAME: Final = 0xFD2FB528
_SKIPPABLE_FIRST: Final = 0x184D2A50
_SKIPPABLE_LAST: Final = 0x184D2A5F
_DICTIONARY_BYTES: Final = (0, 1, 2, 4)
_CONTENT_SIZE_BYTES: Final = (0, 2, 4, 8)
_RLE_BLOCK: Final = 1


def ends_with_a_frame(file: IO[bytes]) -> bool:
    """Whether a file is a sequence of complete frames. Leaves the position of the file anywhere."""
    size = file.seek(0, 2)
    position = 0
    while position < size:
        position = _after_frame(file, position)
        if position < 0 or position > size:
            return False
    return size > 0


def _number(file: IO[bytes], position: int, length: int) -> int:
    file.seek(position)
    data = file.read(length)
    return int.from_bytes(data, "little") if len(data) == length else -1


def _after_frame(file: IO[bytes], position: int) -> int:
    """Where the frame at a position ends; -1 if it is none or cut off."""
    magic = _number(file, position, 4)
    if _SKIPPABLE_FIRST <= magic <= _SKIPPABLE_LAST:
        length = _number(file, position + 4, 4)
        return position + 8 + length if length >= 0 else -1
    descriptor = _number(file, position + 4, 1)
    if magic != _FRAME or descriptor < 0:
        return -1
    single_segment = bool(descriptor & 0x20)
    content_size = _CONTENT_SIZE_BYTES[descriptor >> 6] or (1 if single_segment else 0)
    position += 5 + (0 if single_segment else 1) + _DICTIONARY_BYTES[descriptor & 3] + content_size
    while True:
        header = _number(file, position, 3)
        if header < 0:
            return -1
        position += 3 + (1 if (header >> 1) & 3 == _RLE_BLOCK else header >> 3)
        if header & 1:
            return position + (4 if descriptor & 4 else 0)
