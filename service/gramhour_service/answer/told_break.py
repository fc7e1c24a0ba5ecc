"""A priced break as it is told: each figure of the calculation under its name on the wire."""

from msgspec import UNSET

from gramhour.contract import answer
from gramhour_service.answer.explanation import explanations, without_working
from gramhour_service.calculation.arithmetic import ZERO, as_line, half_up
from gramhour_service.calculation.breaks import FlaggedBreak
from gramhour_service.calculation.components import Purchase
from gramhour_service.calculation.costs import CostLines, Costs
from gramhour_service.calculation.feedstock import PacksBought
from gramhour_service.calculation.fees import Fees
from gramhour_service.calculation.use import Use


def told_break(flagged: FlaggedBreak, digits: int, *, explain: bool) -> answer.Break:
    """Tell a break; money bought for the order has ``digits`` decimals, the currency's."""
    each = without_working(flagged.priced) if explain else flagged.priced
    settled = each.priced.settled
    return answer.Break(
        quantity=each.quantity,
        unit_price=settled.unit_price,
        unit_price_net=each.unit_price_net,
        order_goods=settled.goods,
        order_postage=settled.postage_charged,
        order_net=settled.net,
        order_tax=settled.tax,
        order_gross=settled.gross,
        unit_cost=each.unit_cost,
        cost=_cost_lines(each.costs.lines),
        fees=_fees(settled.fees),
        profit=settled.profit,
        margin_pct=each.margin_pct,
        markup_pct=each.markup_pct,
        contribution_per_machine_hour=each.contribution_per_machine_hour,
        contribution_per_labour_hour=each.contribution_per_labour_hour,
        use=_use(each.use),
        purchases=_purchases(each.costs, digits),
        flags=list(flagged.flags),
        explain=explanations(flagged) if explain else UNSET,
    )


def _cost_lines(lines: CostLines) -> answer.CostLines:
    return answer.CostLines(
        feedstock=lines.feedstock,
        components=lines.components,
        machine=lines.machine,
        energy=lines.energy,
        nozzle_wear=lines.nozzle_wear,
        labour=lines.labour,
        scrap=lines.scrap,
        rejects=lines.rejects,
        packaging=lines.packaging,
        design=lines.design,
        material_overhead=lines.material_overhead,
        production_overhead=lines.production_overhead,
        admin_overhead=lines.admin_overhead,
        total=lines.total,
    )


def _fees(fees: Fees) -> answer.Fees:
    return answer.Fees(
        channel=fees.channel,
        payment=fees.payment,
        fixed=fees.fixed,
        postage=fees.postage,
        design_share=fees.design_share,
        total=fees.total,
    )


def _use(use: Use) -> answer.Use:
    return answer.Use(
        feedstock_g={code: float(as_line(grams)) for code, grams in use.feedstock_g.items()},
        machine_h=float(as_line(use.machine_h)),
        machine_h_by={code: float(as_line(hours)) for code, hours in use.machine_h_by.items()},
        builds=use.builds,
        build_starts=float(as_line(use.build_starts)),
        labour_min=float(as_line(use.labour_min)),
        energy_kwh=float(as_line(use.energy_kwh)),
    )


def _purchases(costs: Costs, digits: int) -> list[answer.Purchase]:
    materials = [_material_purchase(bought, digits) for bought in costs.packs_bought]
    return materials + [row for each in costs.purchases for row in _component_rows(each, digits)]


def _material_purchase(bought: PacksBought, digits: int) -> answer.Purchase:
    pack = bought.material.pack
    assert pack is not None
    return answer.Purchase(
        material=bought.material.code,
        pack_quantity=float(pack.pack_g),
        packs=bought.packs,
        price=half_up(bought.price, digits),
        shipping=half_up(ZERO, digits),
        left_over=float(as_line(bought.left_over_g)),
    )


def _component_rows(purchase: Purchase, digits: int) -> list[answer.Purchase]:
    """One row a pack size, largest first; shipping on the first, what is left over on the last."""
    rows = sorted(zip(purchase.packs, purchase.prices, strict=True), reverse=True)
    return [
        answer.Purchase(
            component=purchase.component.code,
            pack_quantity=int(packs.pack_quantity),
            packs=int(packs.packs),
            price=half_up(price, digits),
            shipping=half_up(purchase.shipping if n == 0 else ZERO, digits),
            left_over=purchase.left_over if n == len(rows) - 1 else 0,
        )
        for n, (packs, price) in enumerate(rows)
    ]
