"""What must be said of hazards, in plain words. Local codes and qualified people decide."""

from msgspec import UNSET, UnsetType

from gramhour.contract.answer import Caution
from gramhour.contract.channel import Packing
from gramhour.contract.component import Hazard
from gramhour.contract.rates import RateSheet
from gramhour.contract.request import QuoteRequest

SAYS: dict[Hazard, str] = {
    "mains voltage": (
        "Mains voltage can kill and start fires. Have a licensed electrician design or check it, "
        "use certified parts, and follow the local electrical code."
    ),
    "lithium battery": (
        "Lithium cells burn when crushed, shorted or overcharged. Use protected cells with a "
        "matching charger; shipping, storage and disposal follow local rules and the carrier's."
    ),
    "heat source": (
        "Printed plastic softens and can burn near heat. Keep the distance and the rating that "
        "the heat source's maker states, and have a qualified person check it."
    ),
    "food contact": (
        "Printed layers hold germs, and filament or nozzle may not be fit for food. Ask for the "
        "material's food-contact declaration and follow the local food-contact law."
    ),
    "small parts for children under three": (
        "Small parts can choke children under three. Toys need testing and marking under the "
        "local toy-safety law; else mark the product as not for children under three."
    ),
    "load-bearing": (
        "Printed parts can break without warning, between layers above all. Test with a margin, "
        "state the load, and have a qualified person approve it where people could be hurt."
    ),
}


def cautions_of(
    request: QuoteRequest, sheet: RateSheet, packing: list[Packing] | UnsetType = UNSET
) -> tuple[Caution, ...]:
    """Gather the cautions of a product, its components and its packing, each once.

    ``packing`` stands in place of the channel's where it is given, an empty one too.
    """
    product = request.product
    hazards: list[Hazard] = [] if product.hazards is UNSET else list(product.hazards)
    channel = None if sheet.channels is UNSET else sheet.channels[request.channel]
    used = [] if product.components is UNSET else [use.component for use in product.components]
    if packing is UNSET and channel is not None:
        packing = channel.packing
    used += [] if packing is UNSET else [each.component for each in packing]
    if sheet.components is not UNSET:
        for code in used:
            own = sheet.components[code].hazards
            hazards += [] if own is UNSET else own
    return tuple(Caution(hazard=hazard, says=SAYS[hazard]) for hazard in dict.fromkeys(hazards))
