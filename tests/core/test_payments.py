"""What a customer owes, stage by stage."""

from decimal import Decimal

import pytest

from studio.core import payments
from studio.core.model import Stage
from tests.core import trading


@pytest.mark.parametrize(
    ("stage", "owed"),
    [
        (Stage.QUOTED, None),
        (Stage.BOOKED, Decimal(150)),
        (Stage.MAKING, Decimal(150)),
        (Stage.IN_STOCK, None),
        (Stage.DELIVERED, Decimal(150)),
        (Stage.DECLINED, None),
        (Stage.CANCELLED, None),
    ],
)
def test_only_an_order_that_stands_has_money_to_come(stage: Stage, owed: Decimal | None) -> None:
    project = trading.piece("a", ("A", 10, ""), stage=stage, price=Decimal(150))
    assert payments.to_come(project) == owed
