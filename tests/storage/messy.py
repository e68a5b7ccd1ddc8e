"""A strategy that writes a table as TOML the way hands do: any legal layout, comments all over."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from studio.storage.values import key_text, literal

Table = dict[str, Any]


class _Hand:
    """Writes with choices that Hypothesis makes, and numbers every comment."""

    def __init__(self, draw: st.DrawFn) -> None:
        self.draw = draw
        self.count = 0

    def chance(self) -> bool:
        return self.draw(st.booleans())

    def comment(self) -> str:
        self.count += 1
        return f"# c{self.count} [ {{ \" ' ="

    def beside(self) -> str:
        return self.draw(st.sampled_from(["", "", "  "])) + (
            f" {self.comment()}" if self.draw(st.integers(0, 3)) == 0 else ""
        )

    def above(self, indent: str = "") -> str:
        choice = self.draw(st.integers(0, 5))
        if choice == 0:
            return f"{indent}{self.comment()}\n"
        if choice == 1:
            return f"\n{indent}{self.comment()}\n\n"
        return "\n" if choice == 2 else ""

    def key(self, name: str) -> str:
        quoted = key_text(name) == name and self.draw(st.integers(0, 9)) == 0
        return f"'{name}'" if quoted else key_text(name)

    def inline(self, table: Table) -> str:
        equals = self.draw(st.sampled_from([" = ", "=", " =  "]))
        pairs = [f"{self.key(k)}{equals}{self.value(v, within=True)}" for k, v in table.items()]
        pad = self.draw(st.sampled_from(["", " "]))
        return f"{{{pad}{', '.join(pairs)}{pad}}}"

    def value(self, value: Any, *, within: bool = False) -> str:
        if isinstance(value, dict):
            return self.inline(value)
        if isinstance(value, list):
            shown = [self.value(part, within=True) for part in value]
            return f"[{', '.join(shown)}]" if within or self.chance() else self.spread(shown)
        if isinstance(value, str) and "'" not in value and value.isprintable() and self.chance():
            return f"'{value}'"
        return literal(value, within=within)

    def spread(self, shown: list[str]) -> str:
        """A list over several lines."""
        text = f"[{self.beside()}\n"
        for i, part in enumerate(shown):
            last = i == len(shown) - 1
            comma = "" if last and self.chance() else self.draw(st.sampled_from([",", ",", " ,"]))
            text += f"{self.above('  ')}  {part}{comma}{self.beside()}\n"
        return f"{text}{self.above('  ')}]"

    def pair(self, name: str, value: Any, before: str = "") -> str:
        equals = self.draw(st.sampled_from([" = ", "=", "   = "]))
        return f"{self.above()}{before}{self.key(name)}{equals}{self.value(value)}{self.beside()}\n"

    def table(self, names: tuple[str, ...], table: Table) -> str:
        """Pairs first, in any order, then what is written under headers of its own."""
        pairs, blocks = "", []
        for name in self.draw(st.permutations(list(table))):
            value = table[name]
            tables = isinstance(value, list) and value and isinstance(value[0], dict)
            if isinstance(value, dict) and value and self.draw(st.integers(0, 3)) == 0:
                pairs += "".join(self.pair(k, v, f"{self.key(name)}.") for k, v in value.items())
            elif (tables or isinstance(value, dict)) and self.chance():
                blocks.append(name)
            else:
                pairs += self.pair(name, value)
        return pairs + "".join(self.block((*names, name), table[name]) for name in blocks)

    def block(self, names: tuple[str, ...], value: Any) -> str:
        dotted = ".".join(self.key(name) for name in names)
        if isinstance(value, list):
            return "".join(
                f"{self.above()}[[{dotted}]]{self.beside()}\n{self.table(names, part)}"
                for part in value
            )
        return f"{self.above()}[{dotted}]{self.beside()}\n{self.table(names, value)}"


@st.composite
def messy(draw: st.DrawFn, table: Table) -> str:
    """The table as a whole file."""
    hand = _Hand(draw)
    return hand.table((), table) + hand.above()
