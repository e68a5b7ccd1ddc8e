"""The stable JSON documents of `used` and `closing`.

As in `report`: money is a string, grams are numbers to a tenth, times are minutes, days are dates.
"""

from __future__ import annotations

from collections.abc import Sequence

from studio.cli.report import FORMAT, Json, day, grams, money, ref_json
from studio.core.closing import Closing
from studio.core.model import Project, Studio
from studio.core.used import ToNote


def used(project: Project, notes: Sequence[ToNote], studio: Studio, *, done: bool) -> Json:
    """What is worked out and not noted yet, what is noted, and whether this command noted any."""
    return {
        "format": FORMAT,
        "currency": studio.settings.currency,
        "project": project.key,
        "name": project.name,
        "to_note": [
            {**ref_json(n.shade), "lot": n.lot, "worked_out_g": grams(n.grams)} for n in notes
        ],
        "noted": [
            {
                **ref_json(n.shade_ref),
                "lot": n.lot,
                "used_g": grams(n.grams),
                "paid": money(n.paid),
                "on": day(n.on),
                "by": n.by.value,
                "rows": n.rows,
                "whole": n.whole,
            }
            for n in project.used
        ],
        "done": done,
    }


def closing(project: Project, found: Closing) -> Json:
    """The account of a piece."""
    size = found.size
    return {
        "format": FORMAT,
        "currency": found.currency,
        "project": project.key,
        "name": project.name,
        "stage": project.stage.value,
        "finished": found.over,
        "shades": [
            {
                **ref_json(s.shade),
                "planned_g": None if s.planned_g is None else grams(s.planned_g),
                "used_g": grams(s.used_g),
                "more_g": None if s.more_g is None else grams(s.more_g),
                "not_noted_g": grams(s.open_g),
                "paid": money(s.paid),
            }
            for s in found.shades
        ],
        "width_cm": round(size.width_cm, 2) if size else None,
        "length_cm": round(size.length_cm, 2) if size else None,
        "planned_min": None if found.planned_min is None else float(found.planned_min),
        "planned_rough": found.planned_rough,
        "logged_min": float(found.logged_min),
        "agreed": money(found.agreed),
        "received": money(found.received),
        "to_come": money(found.to_come),
        "tax": money(found.tax),
        "costs": None
        if found.costs is None
        else [{"label": c.label, "how": c.how, "amount": money(c.amount)} for c in found.costs],
        "cash_costs": money(found.cash_costs),
        "earned": money(found.earned),
        "per_hour": money(found.per_hour()),
        "per_hour_once_paid": money(found.per_hour(with_rest=True)),
        "not_known": list(found.unknown),
    }
