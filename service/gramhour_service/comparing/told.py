"""A comparison worked out, as the contract tells it."""

from decimal import Decimal

from msgspec import UNSET, UnsetType

from gramhour.contract.compared import (
    Compared,
    ComparedAlternative,
    Comparison,
    Interval,
    Payback,
    Ranked,
    Ranking,
)
from gramhour_service.calculation.arithmetic import as_line, costing_arithmetic
from gramhour_service.calculation.rules import VERSION
from gramhour_service.comparing.asked import Sought
from gramhour_service.comparing.evaluating import At, Evaluated, ranked, value_of
from gramhour_service.comparing.purchase import Gained, hours_to_pay_back, units_to_pay_back


def told(sought: Sought, evaluated: Evaluated) -> Comparison:
    """Tell a comparison."""
    with costing_arithmetic():
        return Comparison(
            currency=sought.currency,
            rules=VERSION,
            rates_revision=sought.revision,
            rates_on=sought.on,
            criterion=sought.criterion,
            market_price=UNSET if sought.market_price is None else sought.market_price,
            alternatives=[_alternative(sought, evaluated, n) for n in range(len(sought.ways))],
            rankings=[_ranking(sought, evaluated, quantity) for quantity in sought.quantities],
            intervals=_intervals(sought, evaluated) if sought.scanned else UNSET,
            cautions=list(sought.cautions),
        )


def _alternative(sought: Sought, evaluated: Evaluated, number: int) -> ComparedAlternative:
    way = sought.ways[number]
    has_market = sought.market_price is not None
    payback: list[Payback] | UnsetType = UNSET
    if way.bought is not None:
        price = way.bought.price
        payback = [
            _payback(sought, quantity, price, gained)
            for quantity, gained in evaluated.gains[number].items()
        ]
    return ComparedAlternative(
        label=way.label,
        at=[_compared(each, has_market=has_market) for each in evaluated.at[number].values()],
        payback=payback,
    )


def _compared(at: At, *, has_market: bool) -> Compared:
    own, market = at.own, at.market
    return Compared(
        quantity=own.quantity,
        unit_cost=own.unit_cost,
        unit_price=own.priced.settled.unit_price,
        margin_pct=own.margin_pct,
        market_margin_pct=market.margin_pct if has_market else UNSET,
        machine_h=float(as_line(own.use.machine_h)),
        labour_min=float(as_line(own.use.labour_min)),
        profit=market.priced.settled.profit,
        contribution_per_machine_hour=market.contribution_per_machine_hour,
        contribution_per_labour_hour=market.contribution_per_labour_hour,
        ready_on=at.ready_on,
    )


def _payback(sought: Sought, quantity: int, price: Decimal, gained: Gained) -> Payback:
    units = units_to_pay_back(price, gained.gain, quantity)
    hours = hours_to_pay_back(price, gained.gain_per_hour)
    demand = sought.demand_per_month
    months: float | UnsetType | None = UNSET
    if demand is not None:
        months = None if units is None else float(as_line(units / demand))
    return Payback(
        quantity=quantity,
        unit_price=gained.unit_price,
        gain_per_unit=as_line(gained.gain / quantity),
        outcome="never" if units is None else "pays_back",
        units=units,
        months=months,
        machine_h_saved_per_unit=float(as_line(gained.hours / quantity)),
        machine_h_when_full=None if hours is None else float(as_line(hours)),
    )


def _ranking(sought: Sought, evaluated: Evaluated, quantity: int) -> Ranking:
    values = [value_of(at[quantity], sought.criterion) for at in evaluated.at]
    return Ranking(
        quantity=quantity,
        alternatives=[
            Ranked(label=sought.ways[n].label, value=values[n])
            for n in ranked(values, sought.criterion)
        ],
    )


def _intervals(sought: Sought, evaluated: Evaluated) -> list[Interval]:
    return [
        Interval(
            from_quantity=each.start,
            to_quantity=each.end,
            label=None if each.number is None else sought.ways[each.number].label,
        )
        for each in evaluated.best
    ]
