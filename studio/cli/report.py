"""The stable JSON documents of `check` and `show`: plain values made from the plan.

Money is a string with the currency's own decimals, grams are numbers to a tenth, lengths are
centimetres to a hundredth. `format` is raised when a key changes its meaning or goes away.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from studio.asked import Snapshot
from studio.core.answers import Finding, ProjectPlan, RunKind, RunPlan, RunRef, ShadePlan, Shortfall
from studio.core.model import Project, ShadeRef, Studio

FORMAT = 1

Json = dict[str, Any]


def grams(value: Decimal | float) -> float:
    """Grams to a tenth."""
    return round(float(value), 1)


def money(value: Decimal | None) -> str | None:
    """An amount as exact text, None where it is not known."""
    return None if value is None else format(value, "f")


def day(on: date | None) -> str | None:
    """A day as year-month-day, None where there is none."""
    return on.isoformat() if on else None


def ref_json(ref: ShadeRef) -> Json:
    """A shade by its keys."""
    return {"yarn": ref.yarn, "shade": ref.shade}


def run_name(run: RunRef) -> str:
    """A run within its piece: 'stripe 3', 'border', 'fringe'."""
    name = run.kind.value
    return f"{name} {run.index + 1}" if run.kind is RunKind.STRIPE else name


def run_json(run: RunPlan) -> Json:
    """One run."""
    return {
        "run": run_name(run.ref),
        "part": run.ref.part,
        "slot": run.slot,
        "yarn": run.shade.yarn,
        "shade": run.shade.shade,
        "rows": run.rows,
        "expected_g": grams(run.mean_g),
        "need_g": grams(run.need_g),
        "cover": run.cover.value,
        "lot": run.lot or "buy" if run.cover.value != "unknown" else None,
        "claim": run.claim.value if run.claim else None,
        "moved_from": run.moved_from,
        "chance": None if run.chance is None else round(run.chance, 4),
    }


def shade_json(shade: ShadePlan) -> Json:
    """One shade of a piece."""
    return {
        "yarn": shade.shade.yarn,
        "shade": shade.shade.shade,
        "slots": list(shade.slots),
        "need_g": grams(shade.need_g),
        "from_stash_g": grams(shade.stash_g),
        "on_order_g": grams(shade.order_g),
        "on_order_late_g": grams(shade.late_g),
        "to_buy_g": grams(shade.buy_g),
        "balls_to_buy": shade.buy_balls,
        "lots": list(shade.lots),
        "rows_per_ball_expected": shade.rows_per_ball_expected,
        "rows_per_ball_safe": shade.rows_per_ball_safe,
        "evidence": shade.row_use.rung.value if shade.row_use else None,
        "cost_used": money(shade.used_cost),
        "cost_cash": money(shade.cash_cost),
        "cost_cash_alone": money(shade.cash_alone),
        "price_assumed": shade.price_assumed,
    }


def finding(found: Finding) -> Json:
    """One finding; places are counted from 1, as on the screen."""
    return {
        "code": found.code,
        "weight": found.weight.value,
        "text": found.text,
        "stripe": None if found.stripe is None else found.stripe + 1,
        "slot": found.slot,
        "yarn": found.shade.yarn if found.shade else None,
        "shade": found.shade.shade if found.shade else None,
        "lot": found.lot.code if found.lot else None,
        "accepted": found.accepted,
    }


def project(project: Project, plan: ProjectPlan) -> Json:
    """One piece with all that is computed of it."""
    size = plan.size
    return {
        "file": f"projects/{project.key}.toml",
        "name": project.name,
        "stage": project.stage.value,
        "customer": project.customer or None,
        "due": day(project.due),
        "chain": size.chain if size else None,
        "stitches": size.stitches if size else None,
        "rows": size.rows if size else sum(s.rows for s in project.stripes),
        "width_cm": round(size.width_cm, 2) if size else None,
        "length_cm": round(size.length_cm, 2) if size else None,
        "asked_width_cm": round(project.width.cm, 2),
        "asked_length_cm": round(project.length.cm, 2),
        "gauge": size.gauge.measure.value if size else None,
        "ends": plan.ends,
        "runs": [run_json(r) for r in plan.runs],
        "shades": [shade_json(s) for s in plan.shades],
        "material_used": money(plan.cost.used),
        "material_cash": money(plan.cost.cash),
        "material_cash_alone": money(plan.cost.cash_alone),
        "notions": money(plan.cost.notions),
        "chance_enough": None if plan.chance is None else round(plan.chance, 4),
        "proved": plan.proved,
        "findings": [finding(f) for f in plan.findings],
    }


def _shortfall(short: Shortfall) -> Json:
    return {
        "yarn": short.shade.yarn,
        "shade": short.shade.shade,
        "held_g": grams(short.held_g),
        "held_balls": short.held_balls,
        "with_quotes_g": grams(short.quoted_g),
        "with_quotes_balls": short.quoted_balls,
        "with_ideas_g": grams(short.all_g),
        "with_ideas_balls": short.all_balls,
        "on_order_g": grams(short.order_g),
        "on_order_late_g": grams(short.late_g),
        "needed_by": day(short.needed_by),
        "projects": list(short.projects),
    }


def _proof(snapshot: Snapshot) -> Json:
    answers = snapshot.plan.shades
    return {
        "shades": len(answers),
        "proved": sum(1 for a in answers.values() if a.proved),
        "open": [
            {
                "yarn": ref.yarn,
                "shade": ref.shade,
                "gaps": [{"stage": g.stage.name.lower(), "gap": round(g.gap, 6)} for g in a.gaps],
            }
            for ref, a in sorted(answers.items())
            if not a.proved
        ],
    }


def check(snapshot: Snapshot) -> Json:
    """The whole studio, reconciled."""
    studio: Studio = snapshot.studio
    return {
        "format": FORMAT,
        "studio": studio.settings.name,
        "currency": studio.settings.currency,
        "projects": [project(p, snapshot.plan.projects[p.key]) for p in studio.projects],
        "shortfalls": [_shortfall(s) for s in snapshot.plan.shortfalls],
        "promised_short": snapshot.plan.promised_short,
        "proof": _proof(snapshot),
        "problems": [
            {
                "file": p.file,
                "key": p.key,
                "line": p.line,
                "found": p.found,
                "allowed": p.allowed,
                "text": p.text,
            }
            for p in snapshot.problems
        ],
    }
