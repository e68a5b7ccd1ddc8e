"""The maker's own wording: read, checked, filled in."""

from __future__ import annotations

import pytest

from studio.papers.template import DEFAULT, FIELDS, SECTIONS, TemplateError, read_wording
from studio.papers.text import to_text
from tests.papers.making import paper

OWN = """
[quote title]
Angebot: $piece

[ Quote  Opening ]
# a remark for herself
Hallo ${customer}, das kostet $$ und $total.

[terms]
"""


def test_own_sections_take_the_place_of_the_defaults() -> None:
    said = to_text(paper(wording=read_wording(OWN)))
    assert "Angebot: Moor throw" in said
    assert "Hallo Ilva Q., das kostet $ und" in said
    assert "remark" not in said
    assert "made by hand to order" not in said  # her empty terms
    assert "This price holds until 15 Mar 2027." in " ".join(said.split())


def test_the_default_has_every_section_and_only_known_fields() -> None:
    words = read_wording(DEFAULT)
    assert set(words.sections) == set(SECTIONS)
    filled = dict.fromkeys(FIELDS, "x")
    assert all("$" not in words.text(s, filled) for s in SECTIONS)


def test_every_field_can_be_used() -> None:
    every = " ".join(f"${f}" for f in FIELDS)
    said = to_text(paper(wording=read_wording(f"[terms]\n{every}")))
    assert "$" not in said


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            "[terms]\n\nFor $custmer",
            "Line 3: there is no field '$custmer'. Did you",
        ),
        ("[terms]\n${margin}", "Line 2: there is no field '$margin'."),
        ("[terms]\nOnly 5 $ more", "Line 2: a '$' stands before no field name."),
        ("[terms]\n$5", "Line 2: a '$'"),
        ("[term]\nx", "Line 1: there is no section [term]. Did you mean 'terms'?"),
        ("[terms]\nx\n[terms]\ny", "Line 3: section [terms] stands here a second time."),
        ("hello\n[terms]\n", "Line 1: text before the first section."),
    ],
)
def test_mistakes_are_told_when_the_file_is_read(text: str, words: str) -> None:
    with pytest.raises(TemplateError) as found:
        read_wording(text)
    assert words in found.value.text


def test_what_stands_in_a_name_is_not_filled_in_again() -> None:
    from dataclasses import replace

    from tests.papers.making import THROW

    said = to_text(paper(replace(THROW, name="$total ${deposit} throw")))
    assert "Quote for $total ${deposit} throw" in said
