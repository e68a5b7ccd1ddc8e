"""Which shades are to be weighed once rows were worked."""

from __future__ import annotations

from studio.core.reconcile import reconcile
from studio.core.worked import weigh_words
from tests.core.small import lot, piece, studio


def test_the_shades_of_the_rows_that_were_worked_are_named() -> None:
    made = studio(piece("a", "A6 B6 A6"), lots=(lot("x", 4), lot("y", 4, shade="2")))
    plan = reconcile(made).plan.projects["a"]
    first = weigh_words(plan, made.library, 6)
    assert first == "Weigh Rust: the stash counts all of it."
    both = "Weigh Rust and Tide: the stash counts all of it."
    assert weigh_words(plan, made.library, 7) == both
    assert weigh_words(plan, made.library) == both


def test_what_never_was_in_the_stash_is_not_weighed() -> None:
    made = studio(piece("a", "A6"))
    assert weigh_words(reconcile(made).plan.projects["a"], made.library) == ""
