"""Ball-band barcodes: the check digit of a GTIN, and the yarn and shade behind a scanned code.

GS1 General Specifications: weights 3, 1, 3, ... from the right of the number without its check
digit; the check digit makes the sum a multiple of ten. A twelve-digit code (UPC-A) is the
thirteen-digit one with a leading 0. Codes are text, since leading zeros count.
"""

from __future__ import annotations

from collections.abc import Mapping

from studio.core.model import ShadeRef
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


def find_shade(scanned: str, known: Mapping[str, ShadeRef]) -> ShadeRef | None:
    """The shade behind a code; None where it is sound but not known yet.

    `known` is by normalised code. A pack's fourteen digits find the ball that they are built on.
    """
    code = normalised(scanned)
    if code in known:
        return known[code]
    if len(code) == 14:
        body = code[1:-1]
        return known.get(body + str(check_digit(body)))
    return None
