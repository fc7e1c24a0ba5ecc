"""When what is bought for an order arrives."""

from gramhour_service.calculation.components import Purchase
from gramhour_service.calculation.cover import Packs
from gramhour_service.calculation.feedstock import PacksBought
from gramhour_service.calculation.lead_time.staffed import Staffed
from gramhour_service.calculation.lead_time.terms import PackDelivery, Terms


def arrival(days: int, terms: Terms, staffed: Staffed) -> int:
    """What is ordered now arrives so many working days later, at the same time of the day."""
    if not days:
        return terms.moment
    calendar = terms.calendar
    today = calendar.day_of(terms.moment)
    day = staffed.working_day_after(today, days)
    return calendar.moment_at(day, calendar.clock_of(terms.moment))


def days_of_purchases(purchases: tuple[Purchase, ...], terms: Terms) -> int:
    """Bought-in parts are there when the last of the packs bought for the order is."""
    return max(
        (
            days_of_packs(packs, terms.component_deliveries[bought.component.code])
            for bought in purchases
            for packs in bought.packs
        ),
        default=0,
    )


def days_of_packs(packs: Packs, deliveries: tuple[PackDelivery, ...]) -> int:
    """Packs come with the offer whose price counts; of two at that price, with the later one."""
    open_to_it = [
        each
        for each in deliveries
        if each.pack_quantity == packs.pack_quantity and each.from_packs <= packs.packs
    ]
    lowest = min(each.price for each in open_to_it)
    return max(each.days for each in open_to_it if each.price == lowest)


def days_by_material(bought: tuple[PacksBought, ...], terms: Terms) -> dict[str, int]:
    """Only what is bought in whole packs for the order is waited for."""
    return {each.material.code: terms.material_days[each.material.code] for each in bought}
