"""The house keeps its order: imports point one way, and the kernel stays behind its door."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import scalegen

ROOT = Path(scalegen.__file__).parent

ORDER = (
    "errors",
    "sources",
    "model",
    "units",
    "fields",
    "outline",
    "shop",
    "pattern",
    "face",
    "layers",
    "design",
    "form",
    "nest",
    "sheet",
    "machining",
    "checks",
    "solids",
    "export",
    "report",
    "looks",
    "study",
    "rehearsal",
    "papers",
    "laying",
    "laying_together",
    "rests",
    "guard",
    "smallest",
    "smallest_views",
    "pipeline",
    "together",
    "restock",
    "keeping",
    "history",
    "option_values",
    "sheet_options",
    "options",
    "outline_options",
    "drafting",
    "cli_jobs",
    "cli_keep",
    "cli_goods",
    "cli_make",
    "cli_outline",
    "cli_restock",
    "cli_show",
    "cli_smallest",
    "cli",
    "__main__",
)
KERNEL_ROOMS = ("solids", "export")


def _modules() -> list[tuple[str, Path]]:
    return [
        (".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"), path)
        for path in sorted(ROOT.rglob("*.py"))
        if path != ROOT / "__init__.py"
    ]


def _rank(module: str) -> int:
    for size in (2, 1):
        name = ".".join(module.split(".")[:size])
        if name in ORDER:
            return ORDER.index(name)
    raise AssertionError(f"{module} has no place in the order")


def _imports(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
        elif isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
    return found


@pytest.mark.parametrize(
    ("module", "path"), _modules(), ids=lambda value: value if isinstance(value, str) else ""
)
def test_a_room_uses_only_rooms_above_it(module: str, path: Path) -> None:
    """No module imports from a room that stands below its own."""
    for name in _imports(path):
        if name.startswith("scalegen."):
            other = name.removeprefix("scalegen.")
            assert _rank(other) <= _rank(module), f"{module} imports {name}"


@pytest.mark.parametrize(
    ("module", "path"), _modules(), ids=lambda value: value if isinstance(value, str) else ""
)
def test_only_solids_and_export_know_the_kernel(module: str, path: Path) -> None:
    """The kernel is imported nowhere but where solids are made and written."""
    if module.split(".", maxsplit=1)[0] not in KERNEL_ROOMS:
        assert not any(name.split(".")[0] in {"OCP", "cadquery"} for name in _imports(path))


def test_the_order_in_the_guide_is_the_one_tested() -> None:
    """Every room of the house is in the contributors' guide."""
    guide = Path(__file__).parents[2] / "DEVELOPERS.md"
    text = guide.read_text(encoding="utf-8")
    for room in {name.split(".")[0] for name in ORDER}:
        assert f"`{room}`" in text or f"`{room}/`" in text, room


@pytest.mark.parametrize("words", [["--help"], ["make", "--help"], ["check", "profiles/harrier.toml"]])
def test_looking_never_loads_the_kernel(words: list[str]) -> None:
    """Help and checks answer without the CAD kernel."""
    code = (
        "import sys\n"
        "from scalegen.__main__ import main\n"
        f"code = main({words!r})\n"
        "loaded = [name for name in sys.modules if name.split('.')[0] in ('OCP', 'cadquery', 'vtk')]\n"
        "sys.exit(f'loaded {loaded[:3]}' if loaded else code)\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", code],
        cwd=Path(__file__).parents[2],
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stderr
