"""What a command loads before it answers: help must be quick, and looking must never wake the CAD kernel."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
KERNEL = {"OCP", "cadquery", "vtk", "vtkmodules"}
HEAVY = {*KERNEL, "numpy", "ezdxf", "shapely", "tomlkit", "rich.console", "rich.table"}
MAIN = (
    "import sys\n"
    "from scalegen.__main__ import main\n"
    "codes = {main(words.split()) for words in sys.argv[1:]}\n"
    "names = set(sys.modules)\n"
    "sys.stderr.write('\\n' + ' '.join(sorted(names | {name.split('.')[0] for name in names})))\n"
    "sys.exit(max(codes))\n"
)


def loaded(*commands: str, code: int = 0) -> set[str]:
    """Modules that are loaded once some commands have run in a fresh process; none may end with more."""
    run = subprocess.run(
        [sys.executable, "-c", MAIN, *commands], capture_output=True, text=True, check=False, cwd=ROOT
    )
    assert run.returncode == code, run.stderr[:500]
    return set(run.stderr.rsplit("\n", 1)[1].split())


def test_help_loads_nothing_heavy() -> None:
    """Help of every command answers before numpy, drawings, tables or the kernel are loaded."""
    commands = ("", "init ", "check ", "make ", "show ", "show pattern ", "show job ", "show tables ")
    names = loaded(*(f"{command}--help" for command in commands), "--version")
    assert "scalegen.cli" in names
    assert not names & HEAVY


def test_a_wrong_call_loads_nothing_heavy() -> None:
    """A slip of the keyboard is answered as fast as help."""
    assert not loaded("mke", "make", "check --wat", code=2) & HEAVY


def test_looking_never_loads_the_kernel() -> None:
    """Checks and tables do without the CAD kernel."""
    names = loaded(
        "check --json profiles/siskin.toml profiles/curlew.toml profiles/harrier.toml",
        "show pattern profiles/siskin.toml",
        "show tables",
    )
    assert "numpy" in names
    assert not names & KERNEL


def test_a_stop_never_loads_the_kernel() -> None:
    """A job that is not made costs no kernel either."""
    assert not loaded("make profiles/siskin.toml --measured 5.0 --out never", code=6) & KERNEL
    assert not (ROOT / "never").exists()
