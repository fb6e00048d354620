"""Row groups of a Parquet file, read from its footer by the format's own description.

The footer is a structure in Thrift's compact protocol; field 4 of the file's metadata lists the
row groups, field 3 of each is its number of rows.
"""

import struct
from pathlib import Path
from typing import Any

STOP, TRUE, FALSE, BYTE, I16, I32, I64, DOUBLE, BINARY, LIST, SET, MAP, STRUCT = range(13)


def row_groups(path: Path) -> list[int]:
    content = path.read_bytes()
    assert content[-4:] == b"PAR1"
    (length,) = struct.unpack("<I", content[-8:-4])
    metadata = Compact(content[-8 - length : -8]).structure()
    return [group[3] for group in metadata[4]]


class Compact:
    def __init__(self, content: bytes) -> None:
        self.content = content
        self.at = 0

    def byte(self) -> int:
        self.at += 1
        return self.content[self.at - 1]

    def varint(self) -> int:
        number = shift = 0
        while True:
            byte = self.byte()
            number |= (byte & 0x7F) << shift
            shift += 7
            if byte < 0x80:
                return number

    def zigzag(self) -> int:
        number = self.varint()
        return (number >> 1) ^ -(number & 1)

    def structure(self) -> dict[int, Any]:
        found: dict[int, Any] = {}
        field = 0
        while (head := self.byte()) != STOP:
            field = field + (head >> 4) if head >> 4 else self.zigzag()
            found[field] = self.value(head & 0x0F, in_field=True)
        return found

    def value(self, kind: int, *, in_field: bool = False) -> Any:
        if kind in (TRUE, FALSE):
            return kind == TRUE if in_field else self.byte() == TRUE
        if kind == BYTE:
            return self.byte()
        if kind in (I16, I32, I64):
            return self.zigzag()
        if kind == DOUBLE:
            self.at += 8
            return struct.unpack("<d", self.content[self.at - 8 : self.at])[0]
        if kind == BINARY:
            length = self.varint()
            self.at += length
            return self.content[self.at - length : self.at]
        if kind in (LIST, SET):
            head = self.byte()
            length = head >> 4 if head >> 4 != 15 else self.varint()
            return [self.value(head & 0x0F) for _ in range(length)]
        assert kind == STRUCT, kind
        return self.structure()
