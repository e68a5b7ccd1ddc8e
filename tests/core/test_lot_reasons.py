"""'Why this lot?' in words: the sentences say the stage and the amount that the core found."""

from dataclasses import replace

from studio.core.answers import RunKind, RunRef
from studio.core.lot_reasons import why_lot
from studio.core.lots.explain import LotQuestion, reasons_of
from studio.core.model import Claim, ClaimKind, LotRule, Stage, Stripe, Studio
from studio.core.reconcile import reconcile
from tests.core.small import lot, piece, studio


def told(made: Studio, key: str = "a", index: int = 0) -> list[tuple[str, str]]:
    result = reconcile(made)
    ref = RunRef(key, RunKind.STRIPE, index)
    run = next(r for r in result.plan.projects[key].runs if r.ref == ref)
    outcome = result.kept.outcomes[run.shade]
    reasons = reasons_of(LotQuestion(outcome.problem, outcome.answer, ref.key))
    return [(s.text, s.figure) for s in why_lot(run, outcome, reasons, made)]


def test_a_lot_that_is_too_small_says_by_how_much() -> None:
    """24 rows of 10 g need 240 g and their margin; two balls have 200 g."""
    made = studio(piece("a", "A24"), lots=(lot("big", 4), lot("small", 2)))
    (chosen, _), (small, lacks), (new, more) = told(made)
    assert chosen.startswith("Lot big works it")
    need = float(reconcile(made).plan.projects["a"].runs[0].need_g)
    assert small == "Lot small: too little, even if used for nothing else; lacks"
    assert lacks == f"{need - 200:.1f} g"
    assert new == "A new lot: A would buy 3 balls more"
    assert more == f"{need:.0f} g"


def test_what_would_be_worse_is_said_at_its_first_stage() -> None:
    """Two runs of 60 g and their margin fit into two balls, but only one of them into one."""
    made = studio(piece("a", "A6 A6"), lots=(lot("x", 2), lot("xx", 1)))
    assert dict(told(made))["Lot xx: more lots would share a slot"] == "1 lot"
    # Where both fit, the other lot takes both, and is only newer.
    roomy = studio(piece("a", "A6 A6"), lots=(lot("x", 2), lot("xx", 2)))
    assert "Lot xx: newer yarn would be used before older" in dict(told(roomy))


def test_a_tie_is_said_once() -> None:
    held = (Stripe("A", 4, Claim(ClaimKind.HOLD, "x")),)
    made = studio(
        piece("a", "A1", Stage.BOOKED, stripes=held), lots=(lot("x", 2), lot("xx", 2), lot("y", 1))
    )
    words = [text for text, _ in told(made)]
    assert words[1:] == ["It is promised its lot, and a promise is kept."]
    pinned = replace(held[0], claim=Claim(ClaimKind.PIN, "x"))
    made = studio(piece("a", "A1", stripes=(pinned,)), lots=(lot("x", 2), lot("xx", 2)))
    assert told(made)[1][0].startswith("You pinned it")


def test_a_pin_on_a_lot_that_does_not_last_says_what_it_lacks() -> None:
    pinned = (Stripe("A", 12, Claim(ClaimKind.PIN, "x")),)
    made = studio(piece("a", "A1", stripes=pinned), lots=(lot("x", 1),))
    need = float(reconcile(made).plan.projects["a"].runs[0].need_g)
    assert told(made)[0] == (
        "Lot x works it, but for all that is tied to it it lacks",
        f"{need - 100:.1f} g",
    )


def test_a_fresh_plan_is_offered_where_promises_cost_buying() -> None:
    """A small stripe holds the only lot that a large one fits: moving it saves buying the large."""
    small = piece("a", "A1", Stage.BOOKED, stripes=(Stripe("A", 4, Claim(ClaimKind.HOLD, "x")),))
    large = piece("b", "A24", Stage.BOOKED)
    made = studio(small, large, lots=(lot("x", 3), lot("xx", 1)))
    offers = [(t, f) for t, f in told(made) if "fresh plan" in t]
    need = reconcile(made).plan.projects["b"].runs[0].need_g
    assert offers == [
        ("A fresh plan, with promised lots free to move, would buy less", f"{need:.0f} g")
    ]


def test_one_lot_keeps_a_run_from_another_than_its_slots() -> None:
    project = piece("a", "A4 A4", Stage.BOOKED)
    slots = (replace(project.slots[0], lots=LotRule.ONE), *project.slots[1:])
    stripes = (replace(project.stripes[0], claim=Claim(ClaimKind.PIN, "x")), project.stripes[1])
    made = studio(replace(project, slots=slots, stripes=stripes), lots=(lot("x", 2), lot("xx", 2)))
    words = [text for text, _ in told(made, index=1)]
    assert "Lot xx: the slot keeps to one lot, and what is settled of it has another" in words
