"""Workbooks (xlsx, xlsb, ods, xls) -> one delimited text per sheet.

Values only: no formula is worked out. The library is loaded when a workbook is met.
"""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any, Final

from pruner.table.cells import as_csv
from pruner.table.opened import TextTable
from pruner.table.unpack import faults
from pruner.words.errors import InputRefusedError

_SHEETS: Final = re.compile(r"xl/workbook\.(?:xml|bin)")
#: The parts of a workbook unpack to so much at most: they are held in memory.
_LARGEST: Final = 1 << 30
_DOCUMENTS: Final = (
    ("word/", "a text document"),
    ("ppt/", "slides"),
    ("AndroidManifest.xml", "a program"),
    ("META-INF/MANIFEST.MF", "a program"),
)
_OPEN_DOCUMENTS: Final = "application/vnd.oasis.opendocument."


def kind_of_zip(path: Path) -> str:
    """What a zip file is: "workbook", the name of another document, or "" for an archive."""
    with faults(path), zipfile.ZipFile(path) as archive:
        names = archive.namelist()
        size = sum(member.file_size for member in archive.infolist())
        mime = archive.read("mimetype")[:200].decode(errors="replace") if "mimetype" in names else ""
    if any(_SHEETS.fullmatch(name) for name in names) or mime.startswith(f"{_OPEN_DOCUMENTS}spreadsheet"):
        if size > _LARGEST:
            raise InputRefusedError(f"{path}: the workbook unpacks to more than {_LARGEST >> 30} GiB; export the sheet as CSV")
        return "workbook"
    if mime.startswith(_OPEN_DOCUMENTS):
        return "a text document, slides or a drawing"
    if "epub" in mime:
        return "a book"
    return next((kind for part, kind in _DOCUMENTS if any(name.startswith(part) for name in names)), "")


@contextmanager
def _workbook_faults(path: Path) -> Iterator[None]:
    """Turns whatever the library raises, panics included, into one line."""
    try:
        yield
    except (KeyboardInterrupt, SystemExit, GeneratorExit, InputRefusedError):
        raise
    except BaseException as error:
        if "password" in type(error).__name__.lower() or "password" in str(error).lower():
            raise InputRefusedError(f"{path}: the workbook needs a password; export the sheet as CSV") from error
        raise InputRefusedError(f"{path}: the workbook is damaged or of an unknown kind; export the sheet as CSV") from error


def open_workbook(path: Path) -> list[TextTable]:
    """The sheets of a workbook that hold cells; hidden ones beside others are refused, since nobody sees what they hold. Raises
    InputRefusedError where there is none."""
    import python_calamine

    with _workbook_faults(path):
        book = python_calamine.CalamineWorkbook.from_path(str(path))
        visible = python_calamine.SheetVisibleEnum.Visible
        shown = {
            sheet.name: sheet.visible == visible
            for sheet in book.sheets_metadata
            if sheet.typ == python_calamine.SheetTypeEnum.WorkSheet and book.get_sheet_by_name(sheet.name).height
        }
        book.close()
    if not shown:
        raise InputRefusedError(f"{path}: no sheet of the workbook holds a cell; expected a table")
    return [
        TextTable(name, partial(_sheet, path, name), is_exact=True)
        if is_shown or not any(shown.values())
        else TextTable(f"{name} (hidden)", partial(_hidden, path, name), is_exact=True, is_refused=True)
        for name, is_shown in shown.items()
    ]


def _hidden(path: Path, name: str) -> Iterator[bytes]:
    raise InputRefusedError(f"{path}: the sheet {name!r} is hidden; show it in the workbook, or export it as CSV")


def _sheet(path: Path, name: str) -> Iterator[bytes]:
    import python_calamine

    with _workbook_faults(path):
        book: Any = python_calamine.CalamineWorkbook.from_path(str(path))
        sheet = book.get_sheet_by_name(name)
        book.close()
        yield from as_csv(sheet.iter_rows())
