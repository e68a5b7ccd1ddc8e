"""Fibres in percent, care in words, cautions."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from studio.core.demand import Demand, demand_of
from studio.core.labels import (
    Cautions,
    care_of,
    cautions_of,
    fibre_parts,
    fibres_of,
    fibres_unknown,
)
from studio.core.made_of import grams_by_yarn
from studio.core.model import Fibre, Fringe, Length, Library, Project, Stage, Used
from tests.core.trading import COTTON, SETTINGS, WOOL, D, piece

LIBRARY = Library((WOOL, COTTON))


def demand(project: Project) -> Demand:
    return demand_of(project, LIBRARY, SETTINGS, {})


def parts(grams: dict[str, int | Decimal], *fibres: tuple[Fibre, ...]) -> list[tuple[str, int]]:
    yarns = tuple(replace(WOOL, key=f"y{n}", fibres=blend) for n, blend in enumerate(fibres))
    found = fibre_parts({k: D(g) for k, g in grams.items()}, Library(yarns))
    return [(p.name, p.percent) for p in found]


def test_the_mean_is_by_grams() -> None:
    # Derived example: 600 g of cotton and 400 g of 60 cotton, 40 acrylic: 84 and 16.
    blend = (Fibre("cotton", D(60)), Fibre("Acrylic", D(40)))
    found = parts({"y0": 600, "y1": 400}, (Fibre("Cotton", D(100)),), blend)
    assert found == [("Cotton", 84), ("Acrylic", 16)]


def test_thirds_sum_to_a_hundred_by_largest_remainder() -> None:
    three = tuple((Fibre(name, D(100)),) for name in ("wool", "linen", "silk"))
    assert parts({"y0": 10, "y1": 10, "y2": 10}, *three) == [
        ("wool", 34),
        ("linen", 33),
        ("silk", 33),
    ]


def test_small_fibres_are_named_together_at_the_end() -> None:
    """US 16 CFR 303: each fibre of 5 % or more by name, less as 'other fiber(s)'.

    EU 1007/2011, article 9, allows 'other fibres' up to 5 %. That they stand last is 16 CFR
    303.16, from memory.
    """
    blend = (Fibre("wool", D(83)), Fibre("nylon", D(5)), Fibre("silk", D(4)),
             Fibre("linen", D("4.9")), Fibre("elastane", D("3.1")))  # fmt: skip
    assert parts({"y0": 10}, blend) == [("wool", 83), ("nylon", 5), ("other fibres", 12)]
    # Where all are small nothing else could be said than their names.
    many = tuple(Fibre(f"fibre {n:02}", D(4)) for n in range(25))
    assert parts({"y0": 10}, many) == [(f"fibre {n:02}", 4) for n in range(25)]


def test_a_trace_keeps_a_piece_from_being_all_of_one_fibre() -> None:
    # EU 1007/2011, article 7: '100 %' is for a single fibre only.
    trace = (Fibre("wool", D("99.9")), Fibre("elastane", D("0.1")))
    assert parts({"y0": 10}, trace) == [("wool", 99), ("other fibres", 1)]
    assert parts({"y0": 10}, (Fibre("wool", D(100)),)) == [("wool", 100)]


def test_an_unknown_yarn_gives_no_label() -> None:
    plain = (Fibre("wool", D(100)),)
    assert parts({"y0": 10, "gone": 5}, plain) == []
    assert parts({}, plain) == []
    assert parts({"y0": 10}, ()) == []
    # A share that is not known makes every other percentage wrong.
    assert parts({"y0": 10, "y1": 5}, plain, ()) == []
    assert parts({"y0": 10, "y1": 0}, plain, ()) == parts({"y0": 10}, plain)


def test_yarns_of_unknown_fibres_are_named() -> None:
    new = piece("p", ("A", 75, ""))
    assert fibres_unknown(demand(new), LIBRARY) == ()
    bare = Library(tuple(replace(y, fibres=()) for y in LIBRARY.yarns))
    assert WOOL.name in fibres_unknown(demand_of(new, bare, SETTINGS, {}), bare)


@given(
    st.lists(
        st.tuples(st.integers(1, 5000), st.lists(st.integers(1, 40), min_size=1, max_size=4)),
        min_size=1,
        max_size=4,
    )
)
def test_percents_sum_to_a_hundred_and_go_down(found: list[tuple[int, list[int]]]) -> None:
    blends = []
    for _, weights in found:
        names = ("wool", "cotton", "silk", "linen")
        share = [D(100 * w) / sum(weights) for w in weights]
        blends.append(tuple(Fibre(n, s) for n, s in zip(names, share, strict=False)))
    said = parts({f"y{n}": grams for n, (grams, _) in enumerate(found)}, *blends)
    assert sum(p for _, p in said) == 100
    percents = [p for name, p in said if name != "other fibres"]
    assert percents == sorted(percents, reverse=True)
    assert min(p for _, p in said) > 0
    assert "other fibres" not in [name for name, _ in said[:-1]]


def test_a_piece_by_what_it_uses_done_or_not() -> None:
    new = piece("new", ("A", 75, ""), ("C", 25, ""))
    assert [(p.name, p.percent) for p in fibres_of(demand(new), LIBRARY)] == [
        ("wool", 60), ("cotton", 25), ("polyamide", 15),
    ]  # fmt: skip
    half = replace(new, rows_done=4)
    assert fibres_of(demand(half), LIBRARY) == fibres_of(demand(new), LIBRARY)


def test_what_is_noted_as_used_beats_what_was_expected() -> None:
    """Percent is by grams used (16 CFR 303, EU 1007/2011: of the finished piece's weight)."""
    new = piece("new", ("A", 75, "1"), ("C", 25, "2"), stage=Stage.MAKING)
    wool = Used("wool", "10", "1", D(100), rows=4)
    cotton = Used("cotton", "10", "2", D(100), rows=8, whole=True)
    # Half of it worked and noted: 100 g of wool (80 wool, 20 polyamide) and 25 g still expected.
    half = replace(new, rows_done=4, used=(wool,))
    assert grams_by_yarn(demand(half), half.used) == {"wool": D(100), "cotton": D(25)}
    assert [(p.name, p.percent) for p in fibres_of(demand(half), LIBRARY, half.used)] == [
        ("wool", 64), ("cotton", 20), ("polyamide", 16),
    ]  # fmt: skip
    # All of it noted: 200 g, whatever was expected: 80, 20 and 100 g of them.
    done = replace(new, stage=Stage.IN_STOCK, rows_done=8, used=(replace(wool, rows=8), cotton))
    assert grams_by_yarn(demand(done), done.used) == {"cotton": D(100), "wool": D(100)}
    assert [(p.name, p.percent) for p in fibres_of(demand(done), LIBRARY, done.used)] == [
        ("cotton", 50), ("wool", 40), ("polyamide", 10),
    ]  # fmt: skip


def test_yarn_that_the_plan_knows_nothing_of_is_in_it_once_it_is_noted() -> None:
    new = piece("new", ("A", 75, ""))
    mended = (Used("cotton", "10", "9", D(80)),)
    assert grams_by_yarn(demand(new), mended) == {"cotton": D(80), "wool": D(75)}
    assert care_of(demand(new), LIBRARY, mended)[0] == "Wash at 40 degrees."


def test_care_of_both_yarns_the_heavier_first() -> None:
    found = care_of(demand(piece("new", ("C", 25, ""), ("A", 75, ""))), LIBRARY)
    assert found == ("Wash by hand at 30 degrees.", "Wash at 40 degrees.")
    assert care_of(demand(piece("new", ("A", 75, ""), ("B", 75, ""))), LIBRARY) == (
        "Wash by hand at 30 degrees.",
    )


def test_cautions_that_apply_and_no_others() -> None:
    def about(project: Project) -> list[tuple[Cautions, bool]]:
        return [(c.about, c.for_maker) for c in cautions_of(project)]

    plain = piece("new", ("A", 75, ""))
    assert about(plain) == [(Cautions.LABEL, True), (Cautions.TAX, True)]
    baby = replace(plain, for_baby=True, fringe=Fringe("A", 20, Length(D(20))))
    assert about(baby) == [
        (Cautions.BABY, False),
        (Cautions.FRINGE, False),
        (Cautions.LABEL, True),
        (Cautions.LABEL, True),
        (Cautions.TAX, True),
    ]
    # American Academy of Pediatrics, 2022: no blankets in the sleeping place under one year.
    assert "not for unattended sleep under 12 months" in cautions_of(baby)[0].text.lower()
    assert all(c.source for c in cautions_of(baby))
