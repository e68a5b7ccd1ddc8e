"""DEVELOPERS.md is a true map of the house."""

from tests.house_map import PAGE, ROOT, first_sentence, with_map


def test_the_map_is_that_of_today() -> None:
    """Make it anew with `python -m tests.house_map`."""
    page = PAGE.read_text()
    assert with_map(page) == page


def test_every_module_says_what_it_is_for() -> None:
    silent = [str(p) for p in (ROOT / "studio").rglob("*.py") if not first_sentence(p)]
    assert silent == []
