"""The maker's wording: a plain text file of sections whose `$fields` are filled in.

A section begins with its name in square brackets on a line of its own. What a file leaves out keeps
the default. Field names are checked when the file is read, so that a mistake is told at once and
never printed.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from string import Template
from typing import Final

from studio.errors import StudioError

FIELDS: Final[Mapping[str, str]] = {
    "balance": "what is still to pay",
    "currency": "the currency's code",
    "customer": "the customer's name",
    "deposit": "the deposit asked",
    "on": "the day of the quote",
    "piece": "the name of the piece",
    "price": "the price of the blanket alone",
    "ready_by": "the day it is to be ready",
    "shipping": "what is charged for shipping",
    "size": "its size",
    "studio": "the name of the studio",
    "total": "all that is to pay",
    "valid_until": "the last day of the price",
}
"""What a text may name, and what stands for it; nothing a customer must not see is among them."""

_LISTED = "\n".join(f"#   ${name:<12} {words}" for name, words in FIELDS.items())

DEFAULT = f"""\
# Wording of the papers for customers. A section begins with its name in square brackets.
# Lines that begin with # are not printed. A section left out keeps its default.
# Write $$ for a dollar sign, and a field where its figure is to stand:
#
{_LISTED}

[quote title]
Quote for $piece

[quote opening]
Dear $customer,

thank you for asking for a blanket of your own. It would be made as drawn here.

[quote closing]
This price holds until $valid_until. To order, please say so in writing and send the deposit of
$deposit; the work begins when it has arrived.

[confirmation title]
Order confirmation: $piece

[confirmation opening]
Dear $customer,

thank you for your order. It is made as drawn here.

[confirmation closing]
It is planned to be ready by $ready_by. The balance of $balance is due before it is handed over.

[terms]
Each blanket is made by hand to order, so sizes can differ a little from what is stated, and the
colours on paper or screen from the yarn. Please ask before ordering if you may want to cancel:
what the law of your place gives you stays yours.

[signature]
$studio
"""

SECTIONS = (
    "quote title",
    "quote opening",
    "quote closing",
    "confirmation title",
    "confirmation opening",
    "confirmation closing",
    "terms",
    "signature",
)


class TemplateError(StudioError):
    """A wording file that cannot be used: the line, what is wrong, and what was meant."""

    title = "The wording cannot be used"


@dataclass(frozen=True)
class Wording:
    """Checked texts by section, fields not yet filled in."""

    sections: Mapping[str, str]

    def text(self, section: str, fields: Mapping[str, str]) -> str:
        """A section with its fields filled in; every field of `FIELDS` must be given."""
        return Template(self.sections[section]).substitute(fields)


def _nearest(word: str, known: Iterable[str]) -> str:
    names = list(known)
    near = difflib.get_close_matches(word, names, 1, 0.5)
    return f"Did you mean {near[0]!r}?" if near else f"There are {', '.join(names)}."


def _check_line(text: str, number: int) -> None:
    """Refuse a field that is not known, or a `$` that begins no field."""
    for match in Template.pattern.finditer(text):
        if match.group("invalid") is not None:
            raise TemplateError(
                f"Line {number}: a '$' stands before no field name. Write '$$' for a dollar sign."
            )
        field = match.group("named") or match.group("braced")
        if field is not None and field not in FIELDS:
            raise TemplateError(
                f"Line {number}: there is no field '${field}'. {_nearest(field, FIELDS)}"
            )


def read_wording(text: str) -> Wording:
    """Read a wording file; sections it does not have keep their default."""
    own = _sections(text)
    return Wording({**_sections(DEFAULT), **own})


def _sections(text: str) -> dict[str, str]:
    found: dict[str, list[str]] = {}
    here: list[str] | None = None
    for number, one in enumerate(text.lstrip("\ufeff").splitlines(), start=1):
        plain = one.strip()
        if plain.startswith("#"):
            continue
        if plain.startswith("[") and plain.endswith("]"):
            name = " ".join(plain[1:-1].split()).lower()
            if name not in SECTIONS:
                raise TemplateError(
                    f"Line {number}: there is no section [{name}]. {_nearest(name, SECTIONS)}"
                )
            if name in found:
                raise TemplateError(f"Line {number}: section [{name}] stands here a second time.")
            here = found[name] = []
            continue
        if here is None:
            if plain:
                raise TemplateError(
                    f"Line {number}: text before the first section. Begin with a name in square "
                    f"brackets, such as [{SECTIONS[0]}]."
                )
            continue
        _check_line(one, number)
        here.append(one.rstrip())
    return {name: "\n".join(body).strip() for name, body in found.items()}
