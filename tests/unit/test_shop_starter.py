"""Laying out a new shop folder."""

from importlib.resources.abc import Traversable
from pathlib import Path

import pytest

from scalegen.errors import UsageError, WriteError
from scalegen.shop import starter
from scalegen.shop.load import REMNANTS_FILE, STAGES_FILE, TABLE_FILES, find_shared, load_shop
from scalegen.shop.starter import init_folder


def _tree(folder: Path) -> set[str]:
    return {str(path.relative_to(folder)) for path in folder.rglob("*")}


def test_a_new_folder_has_everything(tmp_path: Path) -> None:
    """All three folders are there, the tables load, and the files named are the files written."""
    shop_folder = tmp_path / "new" / "shop"
    written = init_folder(shop_folder)
    assert {"profiles", "shared", "out"} <= {path.name for path in shop_folder.iterdir()}
    assert set(written) == {path for path in shop_folder.rglob("*") if path.is_file()}
    assert {path.name for path in written if path.parent.name == "shared"} == {
        *TABLE_FILES,
        REMNANTS_FILE,
        STAGES_FILE,
    }
    assert load_shop(find_shared(shop_folder)).stacks == load_shop(None).stacks


def test_other_files_stay(tmp_path: Path) -> None:
    """A folder in use gets the new files beside what it has."""
    (tmp_path / "notes.txt").write_text("mine", encoding="utf-8")
    (tmp_path / "out").mkdir()
    init_folder(tmp_path)
    assert (tmp_path / "notes.txt").read_text(encoding="utf-8") == "mine"
    assert find_shared(tmp_path) is not None


def test_files_that_are_there_are_never_overwritten(tmp_path: Path) -> None:
    """One file of the set that is there already: refused by name, and nothing is written."""
    mine = tmp_path / "shared" / "stock.toml"
    mine.parent.mkdir()
    mine.write_text("mine", encoding="utf-8")
    before = _tree(tmp_path)
    with pytest.raises(UsageError, match=r"stock\.toml"):
        init_folder(tmp_path)
    assert _tree(tmp_path) == before
    assert mine.read_text(encoding="utf-8") == "mine"


def test_a_file_is_not_a_folder(tmp_path: Path) -> None:
    """Naming a file is refused."""
    path = tmp_path / "file"
    path.touch()
    with pytest.raises(UsageError, match="not a folder"):
        init_folder(path)


def test_a_file_in_the_way_is_a_write_error(tmp_path: Path) -> None:
    """A file where a folder belongs ends in a WriteError, with nothing left behind."""
    (tmp_path / "out").touch()
    with pytest.raises(WriteError, match="file of this name"):
        init_folder(tmp_path)
    assert _tree(tmp_path) == {"out"}


def test_a_failure_half_way_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the last file cannot be written, those before it are taken away again."""
    bundled = starter._bundled

    def with_a_bad_end(name: str, endings: tuple[str, ...]) -> list[Traversable]:
        return [*bundled(name, endings), *([tmp_path / "gone.toml"] if name == "shared" else [])]

    monkeypatch.setattr(starter, "_bundled", with_a_bad_end)
    with pytest.raises(WriteError):
        init_folder(tmp_path / "shop")
    assert _tree(tmp_path) == set()
