"""The files of open purchases as types: what is on order, and what is typed of a parcel."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Annotated

from pydantic import AfterValidator, Field

from studio.core.buying.delivery import Fate, ShareBy
from studio.storage import rules
from studio.storage.records_base import (
    CountFromOne,
    Exact,
    FileRecord,
    Line,
    Many,
    Name,
    Record,
    Text,
    noted,
)


class LineRecord(Record):
    """Balls of one shade on order."""

    yarn: Name
    shade: Name
    balls: CountFromOne
    price: Exact | None = None


class BagRecord(Record):
    """Balls of one dye lot that came."""

    yarn: Name
    shade: Name
    code: Line = noted("The dye lot of its band; empty for a yarn without dye lots.", "")
    balls: CountFromOne
    fate: Annotated[Fate, Field(strict=False)] = Fate.GOOD
    code_lost: bool = noted("Whether the band is lost, so that the dye lot is not known.", False)


class PaidRecord(Record):
    """What a ball cost where it is not what was ordered."""

    yarn: Name
    shade: Name
    price: Exact


class DeliveryRecord(Record):
    """What is typed of a parcel that is not on the shelf yet; the app writes and removes it."""

    on: date = noted("The day it came.")
    shipping: Exact = Decimal(0)
    tax: Exact = noted("Where she cannot reclaim it.", Decimal(0))
    share_by: Annotated[ShareBy, Field(strict=False)] = noted(
        "How shipping is shared.", ShareBy.VALUE
    )
    rest_comes: bool = noted("Whether what did not come is still expected.", True)
    rest_arrives: date | None = None
    kept: Line = ""
    bag: Many[BagRecord] = ()
    price: Annotated[Many[PaidRecord], AfterValidator(rules.prices_once)] = ()


class PurchaseRecord(FileRecord):
    """purchases/KEY.toml: one open purchase."""

    supplier: Name
    arrives: date
    ordered: date | None = None
    part_came: bool = noted("Whether goods of it are on the shelf already.", False)
    note: Text = ""
    line: Many[LineRecord] = ()
    parcel: DeliveryRecord | None = None
