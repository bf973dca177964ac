"""Tables that grow while they are written: CSV, XLSX and Parquet files, whatever their length."""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Protocol

import numpy as np

from dryfit.ground.quantity import Array
from dryfit.views.sweep_cells import FileColumn

LONGEST_SHEET = 1_048_575
"""Rows of an XLSX sheet beneath its heads (limit of the format: 2^20 rows)."""

Cells = Sequence[Array | list[str]]
"""One entry a column: numbers (n,), NaN for an empty cell, or words."""


class TableFile(Protocol):
    """A file that takes rows as they come. dropped: rows that the format had no room for."""

    dropped: int

    def write(self, cells: Cells) -> None:
        """Add some rows, given by columns."""

    def close(self) -> None:
        """Finish the file."""


def table_file(path: Path, columns: Sequence[FileColumn], ending: str) -> TableFile:
    """A new table at `path` in the format of an ending (".csv", ".xlsx", ".parquet")."""
    table: TableFile = TABLES[ending](path, columns)
    return table


class CsvTable:
    """Comma-separated, UTF-8, numbers with ten figures, empty cells where nothing is known."""

    def __init__(self, path: Path, columns: Sequence[FileColumn]) -> None:
        self.columns, self.dropped = columns, 0
        self._file = path.open("w", encoding="utf-8", newline="")
        self._rows = csv.writer(self._file, lineterminator="\n")
        self._rows.writerow([c.head for c in columns])

    def write(self, cells: Cells) -> None:
        """Add some rows."""
        self._rows.writerows(zip(*(_texts(c, x) for c, x in zip(self.columns, cells, strict=True)), strict=True))

    def close(self) -> None:
        """Finish the file."""
        self._file.close()


def _texts(column: FileColumn, values: Array | list[str]) -> list[str]:
    if isinstance(values, list):
        return values
    form = "%d" if column.whole else "%.10g"
    return ["" if math.isnan(v) else form % v for v in values.tolist()]


class ParquetTable:
    """Columns of numbers and words; every block that comes is one row group."""

    def __init__(self, path: Path, columns: Sequence[FileColumn]) -> None:
        import pyarrow as pa  # type: ignore[import-untyped]
        import pyarrow.parquet as pq  # type: ignore[import-untyped]

        self.columns, self.dropped = columns, 0
        kinds = [pa.string() if c.words else pa.int64() if c.whole else pa.float64() for c in columns]
        self._schema = pa.schema([pa.field(c.head, k) for c, k in zip(columns, kinds, strict=True)])
        self._writer = pq.ParquetWriter(str(path), self._schema)

    def write(self, cells: Cells) -> None:
        """Add some rows."""
        import pyarrow as pa

        arrays = [
            pa.array([v or None for v in x], type=k.type) if isinstance(x, list)
            else pa.array(np.asarray(x), mask=np.isnan(x)).cast(k.type)
            for x, k in zip(cells, self._schema, strict=True)
        ]  # fmt: skip
        if len(arrays[0]):
            self._writer.write_table(pa.table(arrays, schema=self._schema))

    def close(self) -> None:
        """Finish the file."""
        self._writer.close()


class XlsxTable:
    """One sheet, written row by row; rows beyond its last one are counted in `dropped`."""

    def __init__(self, path: Path, columns: Sequence[FileColumn]) -> None:
        import xlsxwriter  # type: ignore[import-untyped]

        self.columns, self.dropped, self._row = columns, 0, 0
        self._book = xlsxwriter.Workbook(str(path), {"constant_memory": True})
        self._sheet = self._book.add_worksheet("machines")
        bold = self._book.add_format({"bold": True})
        for place, c in enumerate(columns):
            self._sheet.write_string(0, place, c.head, bold)
            self._sheet.set_column(place, place, max(10, min(len(c.head), 40)))
        self._sheet.freeze_panes(1, 0)

    def write(self, cells: Cells) -> None:
        """Add some rows."""
        columns = [x if isinstance(x, list) else x.tolist() for x in cells]
        for row in zip(*columns, strict=True):
            if self._row == LONGEST_SHEET:
                self.dropped += 1
                continue
            self._row += 1
            for place, cell in enumerate(row):
                self._cell(place, cell)

    def _cell(self, place: int, cell: Any) -> None:
        if isinstance(cell, str):
            if cell:
                self._sheet.write_string(self._row, place, cell)
        elif np.isinf(cell):
            self._sheet.write_string(self._row, place, "unlimited" if cell > 0 else "-unlimited")
        elif not np.isnan(cell):
            self._sheet.write_number(self._row, place, cell)

    def close(self) -> None:
        """Finish the file."""
        self._book.close()


TABLES: dict[str, Any] = {".csv": CsvTable, ".xlsx": XlsxTable, ".parquet": ParquetTable}
