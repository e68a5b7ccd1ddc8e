"""The map of modules in DEVELOPERS.md, made from their docstrings: `python -m tests.house_map`."""

import ast
import functools
from pathlib import Path

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "DEVELOPERS.md"
BEGIN, END = "<!-- map -->", "<!-- end of map -->"


@functools.cache
def first_sentence(path: Path) -> str:
    """The first line of a module's docstring."""
    text = ast.get_docstring(ast.parse(path.read_text())) or ""
    return text.split("\n", 1)[0]


def house_map() -> str:
    """Every module under studio/ with what it is for, folder by folder."""
    lines: list[str] = []
    for folder in sorted({p.parent for p in (ROOT / "studio").rglob("*.py")}):
        if not list(folder.glob("*.py")):
            continue
        about = first_sentence(folder / "__init__.py") if (folder / "__init__.py").exists() else ""
        lines += ["", f"**{folder.relative_to(ROOT)}/** {about}", ""]
        for path in sorted(folder.glob("*.py")):
            if path.name != "__init__.py":
                lines.append(f"- `{path.name}` {first_sentence(path)}")
    return "\n".join(lines).strip()


def with_map(page: str) -> str:
    """The page with its map made anew."""
    before, rest = page.split(BEGIN)
    _, after = rest.split(END)
    return f"{before}{BEGIN}\n{house_map()}\n{END}{after}"


if __name__ == "__main__":
    PAGE.write_text(with_map(PAGE.read_text()))
