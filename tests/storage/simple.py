"""Hypothesis strategies for the plain values of a file: names, numbers, dates."""

from __future__ import annotations

from datetime import date

from hypothesis import strategies as st

keys = st.from_regex(r"[a-z][a-z0-9]{0,6}(-[a-z0-9]{1,4})?", fullmatch=True).filter(
    lambda key: key not in {"con", "prn", "aux", "nul"}
)
_printable = st.characters(exclude_categories=("Cc", "Cs"))
names = st.text(_printable, min_size=1, max_size=20)
lines = st.text(_printable, max_size=20)
texts = st.text(
    st.characters(exclude_categories=("Cc", "Cs"), include_characters="\n\t"), max_size=40
)
counts = st.integers(0, 10_000)
ones_up = st.integers(1, 10_000)
exact = st.decimals(0, 10**6, places=2) | st.decimals(0, 10**4, places=4)
above_zero = exact.filter(lambda number: number > 0)
dates = st.dates(date(1990, 1, 1), date(2090, 1, 1))
