"""How long the build book takes, against an empty page and a plain table of 2,000 rows set in the same run."""

from __future__ import annotations

import json
from datetime import date

import typst
from timing import best, row

from dryfit.assess.pictures import pictures
from dryfit.assess.results import results
from dryfit.jobs.check import check, example
from dryfit.making.stages import stages
from dryfit.outputs.book import book_bytes
from dryfit.outputs.drawings import svg
from dryfit.views.book import book
from dryfit.views.book_blocks import Book, Occasion

TABLE = b'#table(columns: 4, ..json("rows.json").flatten())'
ROWS = json.dumps([[str(n), "name", "value", "why it is so"] for n in range(2000)]).encode()


def main() -> None:
    checked = check(example("sunbloom"))
    found = results(checked.machine)
    drawn = pictures(checked.machine, found)

    def put_together() -> Book:
        return book(
            checked.report, checked.machine, drawn, stages(checked.machine), (), (), (), date(2027, 3, 8),
            occasion=Occasion("design.yaml"),
        )  # fmt: skip

    whole = put_together()
    empty = best(lambda: typst.compile({"main": b"x"}, format="pdf"), 1)
    table = best(lambda: typst.compile({"main": TABLE, "rows.json": ROWS}, format="pdf"), 1)
    views = best(put_together, 3)
    # once only: what is set a second time is remembered by the page setter
    pages = best(lambda: book_bytes(whole, svg), 1)
    print("Build book of Sunbloom")
    row("an empty page", f"{empty:.3f} s")
    row("a table of 2,000 rows", f"{table:.3f} s")
    row("chapters and drawings", f"{views:.3f} s")
    row("pages", f"{pages:.3f} s")
    row("whole book against the table", f"{(views + pages) / table:.2f}")


if __name__ == "__main__":
    main()
