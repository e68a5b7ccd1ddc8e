"""Edits of the barcodes on ball bands: a number is given to the shade that it stands for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from studio.core.buying.gtin import BarcodeError, gtin14, known_shades
from studio.core.edits.places import check_shade, refuse, shade_name
from studio.core.model import ShadeRef, Studio


def add_barcode(studio: Studio, ref: ShadeRef, code: str) -> Studio:
    """Give a barcode to a shade, so that the next scan finds it."""
    check_shade(studio, ref)
    return set_barcodes(studio, ref, (*studio.library.shade[ref].barcodes, code))


def set_barcodes(studio: Studio, ref: ShadeRef, codes: Sequence[str]) -> Studio:
    """Put the barcodes of a shade right: each must check, and stand for no other shade."""
    check_shade(studio, ref)
    old = studio.library.shade[ref]
    known = known_shades(studio.library)
    kept: list[str] = []
    for code in codes:
        if code in old.barcodes:
            # One of hers that does not check is told among what is wrong with her files.
            kept += [] if code in kept else [code]
            continue
        number = _number(code)
        other = known.get(number)
        if other is not None and other != ref:
            refuse(
                f"The barcode {code} is that of {shade_name(studio, other)} already: "
                "take it out there first."
            )
        if not any(_same(number, c) for c in kept):
            kept.append("".join(c for c in code if c.isdigit()))
    if tuple(kept) == old.barcodes:
        return studio
    yarn = studio.library.yarn[ref.yarn]
    new = replace(old, barcodes=tuple(kept))
    shades = tuple(new if s is old else s for s in yarn.shades)
    yarns = tuple(replace(y, shades=shades) if y is yarn else y for y in studio.library.yarns)
    return replace(studio, library=replace(studio.library, yarns=yarns))


def _number(code: str) -> str:
    try:
        return gtin14(code)
    except BarcodeError as error:
        refuse(error.text)


def _same(number: str, code: str) -> bool:
    """Whether a kept code is this number; one that does not check is no number."""
    try:
        return gtin14(code) == number
    except BarcodeError:
        return False
