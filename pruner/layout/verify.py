"""A written file read again and compared, cell by cell.

Receives a path and what the file should say. Reads in a way of its own: bytes from the disk, Python's decoder, Arrow's
CSV reader (the writer is polars), and for fixed files cells cut out of the encoded lines.
"""

from __future__ import annotations

from pathlib import Path

import polars as pl
import pyarrow as pa
import pyarrow.csv as arrow_csv
import regex  # type: ignore[import-untyped]

from pruner.layout.model import Layout
from pruner.words.errors import InputRefusedError, PrunerError, SourceMissingError


def verify_file(path: Path, rows: pl.DataFrame, layout: Layout) -> None:
    """Raises PrunerError when a file does not give back the rows (and headings) that were written into it."""
    try:
        headings, found = read_cells(path, layout)
    except InputRefusedError as error:
        raise PrunerError(f"read back: {error}; nothing was published") from error
    titles = [column.title for column in layout.columns]
    above = layout.line_ending.join((*layout.file.lines_above, "")).encode(layout.encoding.codec)
    if not path.read_bytes().startswith(layout.mark + above):
        raise PrunerError(f"{path}: read back, the lines above are not what was written; nothing was published")
    if not same_headings(headings, layout):
        raise PrunerError(f"{path}: read back, the headings are not what was written; nothing was published")
    if found.height != rows.height:
        raise PrunerError(f"{path}: read back, it has {found.height:,} rows instead of {rows.height:,}; nothing was published")
    if found.equals(rows):
        return
    for place, title in enumerate(titles):
        differs = (rows[:, place] != found[:, place]).arg_true()
        if len(differs):
            row = int(differs[0])
            raise PrunerError(
                f"{path}: read back, row {row + 1:,} of column {title!r} holds {found[row, place]!r} instead of "
                f"{rows[row, place]!r}; nothing was published"
            )


def same_headings(headings: list[str] | None, layout: Layout) -> bool:
    """Whether a file's headings are those of the layout, but for spaces at their ends."""
    titles = [column.title.rstrip(" ") for column in layout.columns]
    return headings is None or [heading.rstrip(" ") for heading in headings] == titles


def read_cells(path: Path, layout: Layout) -> tuple[list[str] | None, pl.DataFrame]:
    """The headings (None: the layout has none) and the cells of a file, columns "0", "1", ... as in `cells.Cells`.

    Raises InputRefusedError where the file cannot be what the layout says.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        raise SourceMissingError(f"{path}: cannot be read ({error.strerror})") from None
    if not data.startswith(layout.mark):
        raise InputRefusedError(f"{path}: does not begin with the byte-order mark that the layout asks for")
    try:
        text = data[len(layout.mark) :].decode(layout.encoding.codec)
    except UnicodeDecodeError:
        raise InputRefusedError(f"{path}: is not text in {layout.file.encoding}, as the layout says") from None
    if layout.file.lines_above:
        text = text.split(layout.line_ending, len(layout.file.lines_above))[-1]
    names = [str(place) for place in range(len(layout.columns))]
    if layout.file.kind == "fixed":
        lines = pl.Series(text.removesuffix(layout.line_ending).split(layout.line_ending) if text else [], dtype=pl.String)
        frame = _fixed_cells(lines, layout, names)
    else:
        frame = _delimited_cells(path, text, layout, names)
    if not layout.file.headings:
        return None, frame
    if not frame.height:
        raise InputRefusedError(f"{path}: has no heading line")
    return list(frame.row(0)), frame[1:]


def _delimited_cells(path: Path, text: str, layout: Layout, names: list[str]) -> pl.DataFrame:
    form = layout.file
    data = text.encode("utf-8")
    if not data:
        return pl.DataFrame(schema=dict.fromkeys(names, pl.String))
    try:
        table = arrow_csv.read_csv(
            pa.BufferReader(data),
            read_options=arrow_csv.ReadOptions(column_names=names, block_size=1 << 22),
            parse_options=arrow_csv.ParseOptions(
                delimiter=form.delimiter,
                quote_char=False if form.quoting == "none" else '"',
                newlines_in_values=False,
                ignore_empty_lines=False,
            ),
            convert_options=arrow_csv.ConvertOptions(column_types=dict.fromkeys(names, pa.string()), strings_can_be_null=False),
        )
    except pa.ArrowInvalid as error:
        raise InputRefusedError(f"{path}: does not read as the layout says: {error}") from None
    frame = pl.from_arrow(table)
    assert isinstance(frame, pl.DataFrame)
    return frame


def _fixed_cells(lines: pl.Series, layout: Layout, names: list[str]) -> pl.DataFrame:
    encoding, unit = layout.encoding, layout.file.width_unit
    widths = [column.width or 0 for column in layout.columns]
    size = encoding.unit if unit == "units" else 1
    plain = lines.str.len_bytes() == lines.str.len_chars()
    whole_letters = (encoding.one_unit and unit == "units") or bool(plain.all())
    if whole_letters:
        letters = [width // encoding.unit if unit == "bytes" else width for width in widths]
        return _sliced(lines, letters, names)
    distinct = lines.unique(maintain_order=True)
    cells: dict[str, list[str]] = {name: [] for name in names}
    for line in distinct.to_list():
        characters = regex.findall(r"\X", line) if unit == "characters" else []
        encoded = b"" if characters else line.encode(encoding.codec)
        start = 0
        for name, width in zip(names, widths, strict=True):
            last = name == names[-1]
            if characters:
                cells[name].append("".join(characters[start : None if last else start + width]))
            else:
                piece = encoded[start * size : None if last else (start + width) * size]
                cells[name].append(piece.decode(encoding.codec, errors="replace"))
            start += width
    table = pl.DataFrame({"line": distinct, **cells}, schema_overrides=dict.fromkeys(names, pl.String))
    return lines.to_frame("line").join(table, on="line", how="left", maintain_order="left").select(names)


def _sliced(lines: pl.Series, widths: list[int], names: list[str]) -> pl.DataFrame:
    starts = [sum(widths[:place]) for place in range(len(widths))]
    frame = lines.to_frame("line")
    return frame.select(
        pl.col("line").str.slice(start, None if name == names[-1] else width).alias(name)
        for name, start, width in zip(names, starts, widths, strict=True)
    )
