"""Reading a TOML file as such."""

import os
from pathlib import Path

import pytest

from scalegen.fields.files import UnreadableError, parse_toml, read_text

GOOD = 'units = "mm"\n[tang]\nthickness = 3\n'


def refused(text: str) -> UnreadableError:
    """What is said about a text that is not TOML."""
    with pytest.raises(UnreadableError, match="not valid TOML") as caught:
        parse_toml(text, Path("a.toml"))
    return caught.value


@pytest.mark.parametrize(
    ("line", "remedy"),
    [
        ("land = 3,5 # mm", "decimals take a point: land = 3.5"),
        ("land = 3.2 mm", 'what has a unit goes in quotes: land = "3.2 mm"'),
        ('land = 1/8"', "what has a unit goes in quotes: land = '1/8\"'"),
        ("land = 1/8", 'a fraction goes in quotes, with its unit: land = "1/8in"'),
        ("land = 1 1/8  # of an inch", 'with its unit: land = "1 1/8in"'),
        ("front = bevel # of three", 'text goes in quotes: front = "bevel"'),
        ('front = "bevel', "close the quotes"),
        ('drill = "#30', "close the quotes"),
        ("land =", "give land a value"),
        ("thickness = 4", "thickness is there already; keep one of the two"),
        ("[tang]", "[tang] may stand only once; several are written [[tang]]"),
        ("[[tang]]", "[tang] may stand only once; several are written [[tang]]"),
        ("land: 3", "write key = value"),
        ("land = {a = 1", "close every bracket"),
    ],
)
def test_the_usual_slips_are_told_how_to_put_right(line: str, remedy: str) -> None:
    """A slip of the pen must be answered with the line, its number and the way to write it."""
    error = refused(f"{GOOD}{line}\nlast = 1\n")
    assert error.line == 4
    assert error.where.startswith("a.toml, line 4, column ")
    assert remedy in error.remedy


@pytest.mark.parametrize("rows", ["[[0, 1], [2 3]]\n", "[\n[0, 1],\n", "[[0, 1]\n", "[0, 1],\n"])
def test_a_list_that_is_not_closed_does_not_blame_what_follows(rows: str) -> None:
    """An error in a list is found further down, so the line there must not be called wrong."""
    for after in ("[front]\nat = 3\n", "at = 3\n", ""):
        error = refused(f"outline = {rows}{after}")
        assert "]" in error.remedy or "bracket" in error.remedy
        assert "already" not in error.remedy
        assert "only once; several" not in error.remedy


def test_text_is_read_as_it_is(tmp_path: Path) -> None:
    """A mark at the start must go, line ends stay."""
    path = tmp_path / "a.toml"
    path.write_bytes(b"\xef\xbb\xbfa = 1\r\n")
    assert read_text(path) == "a = 1\r\n"


def test_a_file_far_too_large_is_refused(tmp_path: Path) -> None:
    """A file of more than 8 MB, such as a film dropped by mistake, must not be taken in."""
    path = tmp_path / "a.toml"
    with path.open("wb") as stream:
        stream.truncate(9_000_000)
    with pytest.raises(UnreadableError, match="too large"):
        read_text(path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no pipes in folders")
def test_a_pipe_is_refused_instead_of_waited_for(tmp_path: Path) -> None:
    """A file that is no file must be refused at once."""
    os.mkfifo(tmp_path / "a.toml")
    with pytest.raises(UnreadableError, match="not an ordinary file"):
        read_text(tmp_path / "a.toml")


def test_a_missing_file_or_folder_is_told_apart(tmp_path: Path) -> None:
    """A near miss must be named; a folder that is not there must be said to be missing."""
    (tmp_path / "wren.toml").touch()
    with pytest.raises(UnreadableError, match=r"did you mean .*wren\.toml\?"):
        read_text(tmp_path / "Wrn.toml")
    with pytest.raises(UnreadableError, match=r"folder .* is not there either"):
        read_text(tmp_path / "gone" / "wren.toml")
