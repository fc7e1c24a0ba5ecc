"""What must be said of hazards, in plain words. Local codes and qualified people decide."""

from msgspec import UNSET

from gramhour.contract.answer import Caution
from gramhour.contract.product import Product
from gramhour.contract.rates import Hazard, RateSheet

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


def cautions_of(product: Product, sheet: RateSheet) -> tuple[Caution, ...]:
    """Gather the cautions of a product and of its components, each once."""
    hazards: list[Hazard] = [] if product.hazards is UNSET else list(product.hazards)
    if product.components is not UNSET and sheet.components is not UNSET:
        for use in product.components:
            own = sheet.components[use.component].hazards
            hazards += [] if own is UNSET else own
    return tuple(Caution(hazard=hazard, says=SAYS[hazard]) for hazard in dict.fromkeys(hazards))
