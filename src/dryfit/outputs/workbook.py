"""Sheets as one workbook (XLSX) and as plain tables (CSV). A file repeats byte for byte."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any

from dryfit.views.sheets import Cell, Sheet, SheetColumn

CREATED = datetime(2000, 1, 1)
"""Date written into every workbook, so that the same lists make the same file."""

_LONGEST_NAME = 31
_FORBIDDEN = re.compile(r"[\[\]:*?/\\]")
_LONGEST_TEXT = 32_767
"""Limits of the format: letters of a sheet's name, letters that it may not have, letters of a cell."""


def write_workbook(sheets: Sequence[Sheet], path: Path) -> None:
    """All sheets in one XLSX file: heads frozen, numbers as numbers, sums as formulas, set up for A4 across.

    Texts stay texts, whatever they begin with. Raises ValueError where there is no sheet.
    """
    import xlsxwriter  # type: ignore[import-untyped]

    if not sheets:
        raise ValueError("a workbook needs a sheet")
    options = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    book = xlsxwriter.Workbook(str(path), options)
    try:
        book.set_properties({"created": CREATED, "title": "Lists for the workshop"})
        names: list[str] = []
        for sheet in sheets:
            names.append(_name(sheet.name, names))
            _sheet(book, names[-1], sheet)
    finally:
        book.close()


def _name(wanted: str, taken: Sequence[str]) -> str:
    """A name that the format allows and no other sheet has."""
    plain = _FORBIDDEN.sub(" ", wanted).strip().strip("'")[:_LONGEST_NAME] or "list"
    name, n = plain, 2
    while name.lower() in {t.lower() for t in taken}:
        tail = f" {n}"
        name, n = plain[: _LONGEST_NAME - len(tail)] + tail, n + 1
    return name


def _sheet(book: Any, name: str, sheet: Sheet) -> None:
    page = book.add_worksheet(name)
    head = book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
    forms = [book.add_format({"num_format": _form(c), "valign": "top"}) for c in sheet.columns]
    words = book.add_format({"text_wrap": True, "valign": "top"})
    for at, column in enumerate(sheet.columns):
        page.write_string(0, at, column.name, head)
        page.set_column(at, at, column.width)
    for n, row in enumerate(sheet.rows, start=1):
        for at, (cell, column) in enumerate(zip(row, sheet.columns, strict=True)):
            _cell(page, n, at, cell, words if column.kind == "text" else forms[at])
    _sums(book, page, sheet)
    for n, note in enumerate(sheet.notes):
        page.write_string(len(sheet.rows) + 3 + n, 0, note[:_LONGEST_TEXT])
    page.freeze_panes(1, 1)
    if sheet.rows:
        page.autofilter(0, 0, len(sheet.rows), len(sheet.columns) - 1)
    page.set_paper(9)
    page.set_landscape()
    page.fit_to_pages(1, 0)
    page.repeat_rows(0)
    page.set_margins(left=0.4, right=0.4, top=0.5, bottom=0.6)
    page.set_footer("&L&A&RPage &P of &N")


def _form(column: SheetColumn) -> str:
    places = "." + "0" * column.digits if column.digits else ""
    return {"number": f"#,##0{places}", "money": "#,##0.00", "count": "#,##0", "date": "yyyy-mm-dd"}.get(
        column.kind, "@"
    )


def _cell(page: Any, row: int, at: int, cell: Cell, form: Any) -> None:
    if cell is None:
        page.write_blank(row, at, None, form)
    elif isinstance(cell, str):
        page.write_string(row, at, cell[:_LONGEST_TEXT], form)
    elif isinstance(cell, date):
        page.write_datetime(row, at, datetime(cell.year, cell.month, cell.day), form)
    else:
        page.write_number(row, at, cell, form)


def _sums(book: Any, page: Any, sheet: Sheet) -> None:
    """A sum beneath each column that has one, with its value, so that readers that do not reckon see it too."""
    from xlsxwriter.utility import xl_rowcol_to_cell  # type: ignore[import-untyped]

    below = len(sheet.rows) + 1
    for at in sheet.totals if sheet.rows else ():
        form = book.add_format({"bold": True, "top": 1, "num_format": _form(sheet.columns[at])})
        values = [cell for row in sheet.rows if isinstance(cell := row[at], int | float)]
        span = f"{xl_rowcol_to_cell(1, at)}:{xl_rowcol_to_cell(below - 1, at)}"
        page.write_formula(below, at, f"=SUM({span})", form, sum(values))


def write_csv(sheet: Sheet, path: Path) -> None:
    """One sheet as comma-separated values, UTF-8: heads, rows, dates as year-month-day; sums and notes left out.

    Texts stand as they are, also those that a spreadsheet might take for a formula: open such a file as text.
    """
    with path.open("w", encoding="utf-8", newline="") as file:
        out = csv.writer(file, lineterminator="\n")
        out.writerow([c.name for c in sheet.columns])
        out.writerows([[_text(cell) for cell in row] for row in sheet.rows])


def _text(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, float):
        return f"{cell:.6g}"
    return cell.isoformat() if isinstance(cell, date) else str(cell)
