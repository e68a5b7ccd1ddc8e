"""Ball-band barcodes: the check digit of a GTIN, and the yarn and shade behind a scanned code.

GS1 General Specifications: weights 3, 1, 3, ... from the right of the number without its check
digit; the check digit makes the sum a multiple of ten. Codes of 8, 12, 13 and 14 digits are one
number where they are the same but for leading noughts: they are compared at fourteen digits.
Codes are text, since leading noughts count.
"""

from __future__ import annotations

from collections.abc import Mapping

from studio.core.model import Library, ShadeRef
from studio.errors import StudioError

LENGTHS = (8, 12, 13, 14)
_DIGITS = frozenset("0123456789")


class BarcodeError(StudioError):
    """A barcode that cannot be one."""

    title = "Not a barcode"


def check_digit(body: str) -> int:
    """The check digit of a number without it."""
    if not body or not _DIGITS.issuperset(body):
        raise ValueError(f"{body!r} is not a row of digits")
    total = sum(int(d) * (3 if at % 2 == 0 else 1) for at, d in enumerate(reversed(body)))
    return -total % 10


def normalised(scanned: str) -> str:
    """A scanned or typed code as it is kept: digits only, checked, UPC-A with its leading 0."""
    code = "".join(c for c in scanned if not c.isspace() and c != "-")
    if not code or not _DIGITS.issuperset(code):
        raise BarcodeError(f"{scanned.strip()!r} is not a barcode number: it has digits only.")
    if len(code) not in LENGTHS:
        raise BarcodeError(
            f"{code} has {len(code)} digits: the number under a barcode has 8, 12, 13 or 14."
        )
    right = check_digit(code[:-1])
    if int(code[-1]) != right:
        raise BarcodeError(
            f"{code} does not check: its last digit would be {right}. Scan it again, or compare "
            "it with the ball band."
        )
    return "0" + code if len(code) == 12 else code


def gtin14(scanned: str) -> str:
    """The code as GS1 compares codes of any length: filled up with noughts to fourteen digits."""
    return normalised(scanned).zfill(14)


def known_shades(library: Library) -> Mapping[str, ShadeRef]:
    """The shade of every barcode by its fourteen digits; those that cannot be one are left out."""
    known: dict[str, ShadeRef] = {}
    for ref, shade in library.shade.items():
        for code in shade.barcodes:
            try:
                known.setdefault(gtin14(code), ref)
            except BarcodeError:
                continue
    return known


def new_barcode(scanned: str, library: Library) -> str | None:
    """The digits of a sound barcode that no shade has yet; None for anything else."""
    try:
        found = find_shade(scanned, known_shades(library))
    except BarcodeError:
        return None
    return None if found else "".join(c for c in scanned if c in _DIGITS)


def is_barcode(text: str) -> bool:
    """Whether it can only be a scanned ball band: as long as one, with the right check digit.

    Eight digits may be a dye lot, and are not taken for a barcode.
    """
    try:
        gtin14(text)
    except BarcodeError:
        return False
    return sum(c in _DIGITS for c in text) > min(LENGTHS)


def find_shade(scanned: str, known: Mapping[str, ShadeRef]) -> ShadeRef | None:
    """The shade behind a code; None where it is sound but not known yet.

    `known` is by all fourteen digits. A pack's code finds the ball that it is built on.
    """
    code = gtin14(scanned)
    if code in known:
        return known[code]
    if code[0] != "0":
        body = code[1:-1]
        return known.get(f"0{body}{check_digit(body)}")
    return None
