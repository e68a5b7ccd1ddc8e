"""Filtering the projects brings the piece that is left to hand."""

from pathlib import Path

from tests.ui import small


async def test_the_piece_that_a_filter_leaves_is_the_one_at_hand(tmp_path: Path) -> None:
    async with small.opened(tmp_path, (120, 36)) as (app, pilot):
        pieces = app.workshop.snapshot.studio.projects
        at_first = app.view.project
        other = next(p for p in pieces if p is not at_first and p.stage.needs_yarn)
        await pilot.press("f2", "slash", *(c if c.isalnum() else "space" for c in other.name))
        await pilot.press("enter")
        await pilot.pause()
        assert app.view.project is other
        await pilot.press("enter")
        await pilot.pause()
        assert app.bench.at == "stripes"
        assert app.bench.stripes.run is not None
        assert app.bench.stripes.run.ref.project == other.key
