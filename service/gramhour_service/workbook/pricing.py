"""A break priced in cells: the aim by quantity, the smallest allowed price that meets it, flags.

The search for that price becomes a row of steps: the first allowed price not below the raw one
and those after it, each computed back by the calculation's own functions.
"""

from decimal import Decimal
from typing import Any

from gramhour_service.calculation import price as rules
from gramhour_service.calculation.arithmetic import ZERO
from gramhour_service.calculation.breaks import Break
from gramhour_service.calculation.builds import Order, OrderLine, ProductBuilds
from gramhour_service.calculation.job import Aim, GivenPrice, Job, MarginAim, MarkupAim
from gramhour_service.calculation.price import Priced
from gramhour_service.calculation.settle import Sale, Settled
from gramhour_service.workbook.calculating import bound
from gramhour_service.workbook.figures import conditions_kept, formula, in_its_cell, named, plain

LEAST_STEPS, MOST_FORESEEN, MOST_STEPS = 3, 8, 200
STEPS_TO_SPARE = 2
LOST_TO_ROUNDING = 3
"""Minor units: of net or tax, and of three fees in per cent, half of one each, and a half more."""

NOT_MET = Decimal("NaN")


def aim_at(job: Job, quantity: Decimal) -> Aim:
    """Take the aim that holds at a quantity; which margin does stays open to the quantity."""
    channel = job.channel
    if job.aim is not None:
        return job.aim
    if not channel.margin_breaks:
        assert channel.aim is not None, "resolve refuses a request that has no aim"
        return channel.aim
    if isinstance(channel.aim, MarginAim):
        return MarginAim(_margin_by_quantity(job, quantity, channel.aim.margin_pct))
    first: Decimal = channel.margin_breaks[0][0]  # type: ignore[assignment]
    if quantity >= first:  # relied on: at a smaller one the aim is of another kind, or none
        return MarginAim(_margin_by_quantity(job, quantity, formula("NA()", NOT_MET)))
    assert channel.aim is not None, "resolve refuses a request that has no aim for a quantity"
    return channel.aim


def _margin_by_quantity(job: Job, quantity: Decimal, otherwise: Decimal) -> Any:
    """Take the margin of the highest break that is open, else what holds below all of them."""
    chosen = otherwise
    for start, aim in job.channel.margin_breaks:
        value = plain(aim.margin_pct) if plain(start) <= plain(quantity) else plain(chosen)
        chosen = formula("IF({0}>={1};{2};{3})", value, quantity, start, aim.margin_pct, chosen)
    return named(chosen, "margin aimed at, by quantity")


def priced(job: Job, made: ProductBuilds, quantity: Any) -> Break:
    """Price so many units of a job's product, as the calculation does, in cells."""
    costs = bound.costs_of_order(Order((OrderLine(made, quantity),), job.channel, job.rates))
    cost, use = costs.lines.total, bound.use_of_order(costs.plans, costs.minutes)
    sale = bound.sale_of(
        job.channel, quantity, cost, job.product.design_fee.share, job.rates.minor_digits
    )
    solved = _solved(sale, aim_at(job, quantity), job.discount_share)
    settled = solved.settled
    brings = bound.contribution(settled.net, settled.fees.total, costs.variable)
    return Break(
        quantity=quantity,
        costs=costs,
        use=use,
        priced=solved,
        unit_price_net=bound.unit_price_net(settled.goods_net, quantity),
        unit_cost=bound.unit_cost(cost, quantity),
        margin_pct=bound.margin_pct(settled.profit, settled.net),
        markup_pct=bound.markup_pct(settled.profit, cost),
        contribution_per_machine_hour=bound.contribution_per_machine_hour(brings, use.machine_h),
        contribution_per_labour_hour=bound.contribution_per_labour_hour(
            brings, use.labour_min, job.rates.labour_rate_per_hour
        ),
    )


def _solved(sale: Sale, aim: Aim, discount_share: Decimal) -> Priced:
    if isinstance(aim, GivenPrice):
        raw, rule, price = None, "given_price", bound.half_up(aim.unit_price, sale.digits)
    else:
        raw, rule = bound.raw_price(sale, aim), "smallest_allowed_price"
        price = _smallest_allowed(sale, aim, raw)
    if plain(discount_share):
        rule = "discounted"
    price = bound.discounted(named(price, "price before discount"), discount_share, sale.digits)
    return Priced(settled_at(sale, price), rule, raw)


def settled_at(sale: Sale, price: Decimal) -> Settled:
    """Compute an order back from its price; whether the minimum applies is a flag's formula."""
    with conditions_kept(None):
        settled: Settled = bound.settle(sale, price)
    return settled


def _smallest_allowed(sale: Sale, aim: MarginAim | MarkupAim, raw: Decimal) -> Any:
    """Take the first of some allowed prices at which the aim is met."""
    step, ending = sale.channel.price_step, sale.channel.price_ending
    first = _first_step(raw, step, ending)
    tried = []
    needed, met = _steps_to_try(sale, aim), False
    for n in range(MOST_STEPS):
        if n >= needed and met:
            break
        price = bound.half_up(
            bound.price_of_step(first + n if n else first, step, ending), sale.digits
        )
        price = named(price, f"price tried {n + 1}")
        left = named(
            _beyond_aim(settled_at(sale, price), aim, sale),
            f"profit beyond the aim at price {n + 1}",
        )
        tried.append((price, left))
        if plain(left) >= 0 and not met:
            needed, met = max(needed, n + 1 + STEPS_TO_SPARE), True
    chosen = formula("NA()", NOT_MET)
    for price, left in reversed(tried):
        value = plain(price) if plain(left) >= 0 else plain(chosen)
        chosen = formula("IF({0}>=0;{1};{2})", value, left, price, chosen)
    return named(chosen, "smallest allowed price")


def _first_step(raw: Decimal, step: Decimal, ending: Decimal) -> Any:
    raw = in_its_cell(raw, "raw price")
    now = rules.first_allowed_step(plain(raw), plain(step), plain(ending))
    nearest = (plain(raw) - plain(ending)) / plain(step)
    near = named(
        formula("ROUND(({0}-{1})/{2};0)", round(nearest), raw, ending, step), "nearest step"
    )
    return named(
        formula(
            "MAX(IF({2}>0;0;1);{0}+IF(ROUND({1}-{2}-{0}*{3};8)>0;1;0))",
            Decimal(now),
            near,
            raw,
            ending,
            step,
        ),
        "first allowed step",
    )


def _beyond_aim(settled: Settled, aim: MarginAim | MarkupAim, sale: Sale) -> Decimal:
    """Say by how much, in hundredths, the profit is beyond the aim; 0 and more meets it."""
    if isinstance(aim, MarginAim):
        share, whole = aim.margin_pct, settled.net
    else:
        share, whole = aim.markup_pct, sale.cost
    value = plain(settled.profit) * 100 - plain(share) * plain(whole)
    noise = "IF(ABS({0}*100-{1}*{2})<1E-7+ABS({2})*1E-13;0;{0}*100-{1}*{2})"
    return formula(noise, value, settled.profit, share, whole)


def _steps_to_try(sale: Sale, aim: MarginAim | MarkupAim) -> int:
    """Say how many allowed prices can be needed: what rounding loses, over what a step brings."""
    channel = sale.channel
    margin = plain(aim.margin_pct) / 100 if isinstance(aim, MarginAim) else ZERO
    share = (
        1
        - margin
        - plain(sale.design_share)
        - (plain(channel.fee_share) + plain(channel.payment_share)) * (1 + plain(channel.tax_share))
    )
    net_step = plain(channel.price_step) * plain(sale.units)
    if channel.prices_include_tax:
        net_step /= 1 + plain(channel.tax_share)
    lost = LOST_TO_ROUNDING * Decimal(1).scaleb(-sale.digits)
    needed = int(lost / (net_step * share)) + STEPS_TO_SPARE
    return max(LEAST_STEPS, min(MOST_FORESEEN, needed))
