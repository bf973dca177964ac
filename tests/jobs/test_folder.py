"""A folder of made files: complete or untouched, and what somebody else wrote there stays."""

from __future__ import annotations

from pathlib import Path

import pytest

from dryfit.ground.errors import DesignError
from dryfit.jobs.folder import LIST, check_folder, filled


def make(folder: Path, **files: str) -> None:
    with filled(folder) as beside:
        for name, text in files.items():
            file = beside / name.replace("__", "/")
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(text, encoding="utf-8")


def half_done(beside: Path) -> None:
    (beside / "book").write_text("half")
    raise ZeroDivisionError


def contents(folder: Path) -> dict[str, str]:
    return {str(p.relative_to(folder)): p.read_text() for p in folder.rglob("*") if p.is_file() and p.name != LIST}


def test_files_are_put_in_a_new_folder(tmp_path: Path) -> None:
    make(tmp_path / "a" / "b", book="1", lists__cuts="2")
    assert contents(tmp_path / "a" / "b") == {"book": "1", "lists/cuts": "2"}
    assert [p.name for p in (tmp_path / "a").iterdir()] == ["b"]


def test_made_again_it_holds_what_was_made_last(tmp_path: Path) -> None:
    make(tmp_path / "a", book="1", lists__cuts="2")
    make(tmp_path / "a", book="new")
    assert contents(tmp_path / "a") == {"book": "new"}
    assert not (tmp_path / "a" / "lists").exists()


def test_what_was_changed_by_hand_is_kept(tmp_path: Path) -> None:
    make(tmp_path / "a", book="1", cuts="2")
    for text in ("first note", "second note"):
        (tmp_path / "a" / "book").write_text(text)
        (tmp_path / "a" / "cuts").write_text("my cuts")
        make(tmp_path / "a", book="new")
    kept = {"book": "new", "book.before": "first note", "book.before1": "second note", "cuts.before": "my cuts"}
    assert kept.items() <= contents(tmp_path / "a").items()


def test_what_others_put_there_stays(tmp_path: Path) -> None:
    make(tmp_path / "a", book="1")
    (tmp_path / "a" / "photo").write_text("mine")
    make(tmp_path / "a", book="2", photo="made")
    assert contents(tmp_path / "a") == {"book": "2", "photo": "made", "photo.before": "mine"}


def test_a_folder_of_others_is_not_written_to(tmp_path: Path) -> None:
    (tmp_path / "thesis").write_text("mine")
    with pytest.raises(DesignError, match="not made here; nothing was written; accepted: a new folder"):
        make(tmp_path, thesis="made")
    assert contents(tmp_path) == {"thesis": "mine"}


def test_trouble_on_the_way_leaves_everything_as_it_was(tmp_path: Path) -> None:
    make(tmp_path / "a", book="1")
    with pytest.raises(ZeroDivisionError), filled(tmp_path / "a") as beside:
        half_done(beside)
    assert contents(tmp_path / "a") == {"book": "1"}
    assert [p.name for p in tmp_path.iterdir()] == ["a"]


@pytest.mark.parametrize("text", ["[]", "{", '["a"]'])
def test_a_list_that_is_none_is_said_so(tmp_path: Path, text: str) -> None:
    (tmp_path / LIST).write_text(text)
    with pytest.raises(DesignError, match="not a list of made files"):
        make(tmp_path, book="1")


def test_a_list_cannot_reach_outside_the_folder(tmp_path: Path) -> None:
    outside = tmp_path / "outside"
    outside.write_text("mine")
    (tmp_path / "a").mkdir()
    (tmp_path / "a" / LIST).write_text('{"../outside": "x", "/etc/hostname": "y"}')
    make(tmp_path / "a", book="1")
    assert outside.read_text() == "mine"


def test_a_file_is_no_folder(tmp_path: Path) -> None:
    (tmp_path / "a").write_text("")
    with pytest.raises(DesignError, match="is a file"):
        check_folder(tmp_path / "a")
