"""The rules of the house: which layer may know what, read from the imports themselves."""

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
STUDIO = ROOT / "studio"

FORBIDDEN = {
    "core": {
        "textual", "rich", "pydantic", "tomllib", "tomli_w", "tomlkit", "pathlib", "os", "io",
        "shutil", "tempfile", "subprocess", "platformdirs",
        "studio.storage", "studio.ui", "studio.cli", "studio.asked", "studio.workshop",
        "studio.solving", "studio.solving_here", "studio.solving_purchase", "studio.papers",
        "studio.clock",
    },
    "storage": {
        "textual", "rich", "studio.ui", "studio.cli", "studio.asked", "studio.workshop", "highspy",
    },
    "papers": {"textual", "studio.ui", "studio.cli", "studio.asked", "studio.workshop"},
    "cli": {"pydantic", "tomllib", "tomli_w", "tomlkit", "highspy"},
    "ui": {"pydantic", "tomli_w", "tomlkit", "highspy", "studio.cli"},
}  # fmt: skip

LAZY = ("highspy", "numpy", "coloraide", "pydantic", "tomlkit", "scipy", "platformdirs", "shtab")
"""Never imported when a module is, outside the module whose business it is."""

OWNERS = {"pydantic": "studio/storage/records"}
"""By the beginning of the module's name."""


def modules(layer: str) -> list[Path]:
    return sorted((STUDIO / layer).rglob("*.py"))


def imports(tree: ast.AST) -> Iterator[tuple[str, int]]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield alias.name, node.lineno
        elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
            yield node.module, node.lineno
            for alias in node.names:
                yield f"{node.module}.{alias.name}", node.lineno


def within(name: str, rule: str) -> bool:
    return name == rule or name.startswith(rule + ".")


@pytest.mark.parametrize("layer", FORBIDDEN)
def test_a_layer_knows_only_what_it_may(layer: str) -> None:
    found = [
        f"{path.relative_to(ROOT)}:{line} imports {name}"
        for path in modules(layer)
        for name, line in imports(ast.parse(path.read_text()))
        for rule in FORBIDDEN[layer]
        if within(name, rule)
    ]
    assert modules(layer), layer
    assert found == []


def test_the_core_opens_no_files() -> None:
    opening = [
        f"{path.relative_to(ROOT)}:{node.lineno}"
        for path in modules("core")
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "open"
    ]
    assert opening == []


def test_the_day_is_asked_in_one_place() -> None:
    """So that one word fixes it for a test, whichever way a screen or a command comes to it."""
    asking = {
        str(path.relative_to(ROOT))
        for path in STUDIO.rglob("*.py")
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Attribute)
        and node.attr == "today"
        and ast.unparse(node).endswith("date.today")
    }
    assert asking == {"studio/clock.py"}


def top_level(tree: ast.Module) -> Iterator[ast.stmt]:
    """Statements that run when the module is imported."""
    for node in tree.body:
        typing_only = isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test)
        if not typing_only and not isinstance(node, ast.FunctionDef | ast.ClassDef):
            yield node


@pytest.mark.parametrize(
    "path", sorted(STUDIO.rglob("*.py")), ids=lambda p: str(p.relative_to(ROOT))
)
def test_heavy_imports_are_lazy(path: Path) -> None:
    where = str(path.relative_to(ROOT))
    found = [
        name
        for node in top_level(ast.parse(path.read_text()))
        for name, _ in imports(node)
        for heavy in LAZY
        if within(name, heavy) and not where.startswith(OWNERS.get(heavy, "-"))
    ]
    assert found == []


def loaded_by(code: str) -> set[str]:
    program = f"{code}\nimport sys; print(' '.join(sys.modules))"
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True, cwd=ROOT
    )
    return set(done.stdout.split())


def test_the_command_line_starts_without_screens_or_solver() -> None:
    loaded = loaded_by("from studio.cli.parser import build_parser; build_parser()")
    assert loaded.isdisjoint({"textual", "rich", "highspy", "numpy", "pydantic", "coloraide"})


def test_the_app_starts_without_solver_files_or_colour_library() -> None:
    loaded = loaded_by("import studio.ui.app")
    assert "textual" in loaded
    assert loaded.isdisjoint({"highspy", "numpy", "pydantic", "tomlkit", "coloraide"})


def screens_arithmetic(path: Path) -> Iterator[str]:
    """Sums and products of anything that is named like a figure of the trade."""
    units = ("_g", "_dg", "_cm", "_m", "_min", "price", "cost", "balls")
    for node in ast.walk(ast.parse(path.read_text())):
        if isinstance(node, ast.BinOp) and isinstance(
            node.op, ast.Add | ast.Sub | ast.Mult | ast.Div | ast.FloorDiv
        ):
            for side in (node.left, node.right):
                name = getattr(side, "attr", getattr(side, "id", ""))
                if isinstance(name, str) and name.endswith(units):
                    yield f"{path.relative_to(ROOT)}:{node.lineno} {name}"


def test_screens_hold_no_arithmetic_on_figures() -> None:
    found = [place for path in modules("ui") for place in screens_arithmetic(path)]
    assert found == []
