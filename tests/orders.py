"""Orders drawn widely over all members of the contract; some with an independent answer."""

from pathlib import Path
from random import Random
from typing import Any, NamedTuple

from hypothesis import strategies as st

from gramhour.contract import answer
from gramhour.contract.documents import parse_json
from gramhour_service.answer.quoting import answer_quote
from gramhour_service.resolve.sheet import sound_sheet

FILE = Path(__file__).parent / "worked" / "drawn-widely.ndjson"
ORDERS: list[Any] = [parse_json(line) for line in FILE.read_bytes().splitlines()]

CURRENCIES = {"EUR": (2, 1.0), "USD": (2, 1.2), "JPY": (0, 150.0), "KWD": (3, 0.3)}
"""Decimals of the minor unit (ISO 4217), and about what a euro is in it."""


class Hand(NamedTuple):
    """Draws members at one level of prices, in a currency with so many decimals."""

    random: Random
    digits: int
    level: float

    def one(self, *choices: Any) -> Any:
        return self.random.choice(choices)

    def some(self, chance: float = 0.6, **members: Any) -> dict[str, Any]:
        """Keep each member with this chance, so that defaults are used as often."""
        return {name: value for name, value in members.items() if self.random.random() < chance}

    def number(self, least: float, most: float, places: int = 2) -> Any:
        """Draw a number; a whole one is sent as such or as a text."""
        text = f"{self.random.uniform(least, most):.{places}f}"
        return int(text) if places == 0 and self.random.random() < 0.5 else text

    def money(self, least: float, most: float) -> Any:
        """Draw an amount of money, nothing included, with up to 6 decimals."""
        return self.number(least * self.level, most * self.level, self.one(2, 4, 6))

    def shown(self, least: float, most: float) -> Any:
        """Draw a price as buyers see it: no finer than the minor unit."""
        return self.number(least * self.level, most * self.level, self.digits)


def a_material(hand: Hand) -> dict[str, Any]:
    material = {"density_g_cm3": hand.number(0.85, 1.45), "diameter_mm": hand.one("1.75", "2.85")}
    material |= hand.some(
        abrasion=hand.one(0, 1, "1.5", 4),
        failure_factor=hand.one("0.5", 1, "1.8", "2.25"),
        first_pass_yield_pct=hand.one(100, hand.number(88, 99, 1), hand.number(40, 99)),
    )
    if hand.random.random() < 0.4:
        return material | {"price_per_kg": hand.money(5, 90)}
    tiers = [(2, 3), (5, "7.5"), (6, 12), (10, 20), (10, "4"), (20, "17.5")]
    pack_g = hand.one(250, 500, 750, 1000, 2500, "2267.96")
    offer = {"pack_g": pack_g, "list_price": hand.money(10, 90)} | hand.some(
        tiers=[
            {"from_packs": start, "discount_pct": discount}
            for start, discount in hand.random.sample(tiers, hand.random.randint(1, 4))
        ],
        rebate_pct=hand.one(0, 5, hand.number(0, 30)),
        shipping_per_purchase=hand.money(0, 12),
        free_shipping_from_packs=hand.one(3, 8, 20),
        usual_packs=hand.one(1, 2, 3, 6, 7, 8, 10, 25),
        tail_g=hand.one(0, 5, "20.5", 30),
    )
    return material | {"offer": offer}


def a_machine(hand: Hand, nozzles: list[str]) -> dict[str, Any]:
    machine: dict[str, Any] = {"power_w": hand.one(0, hand.number(50, 450, 1))} | hand.some(
        warm_up_min=hand.one(0, 6, "12.5"),
        warm_up_kwh=hand.number(0, 0.2, 3),
        usual_nozzle=hand.one(*nozzles),
    )
    if hand.random.random() < 0.4:
        machine |= {
            "hours_between_failures": hand.one(200, hand.number(60, 900), hand.number(8, 60))
        }
        machine |= hand.some(start_yield_pct=hand.number(85, 100, 1))
    else:
        machine |= hand.some(
            first_pass_yield_pct=hand.one(100, hand.number(80, 99, 1), hand.number(20, 99)),
            loss_at_failure_pct=hand.one(0, 30, 100, hand.number(0, 100)),
        )
    if hand.random.random() < 0.4:
        return machine | {"rate_per_hour": hand.one(0, hand.money(0.2, 5), hand.money(0.2, 5))}
    machine |= {"replacement_price": hand.money(200, 4000), "life_years": hand.one(2, 5, "4.5")}
    machine |= {"hours_per_year": hand.one(3200, "1234.5", hand.number(400, 5000, 0))}
    return machine | hand.some(
        residual_value=hand.money(0, 190),
        interest_pct=hand.one(0, "4.5", hand.number(0, 12)),
        space_per_year=hand.money(0, 200),
        maintenance_per_year=hand.money(0, 200),
    )


def a_component(hand: Hand) -> dict[str, Any]:
    piece, even = hand.random.uniform(0.05, 8), hand.random.random() < 0.15
    offers = []
    for _ in range(hand.one(1, 1, 2, 3, 4, 8)):
        size = hand.one(1, 1, 2, 3, 5, 6, 10, 12, 25, 50, 100)
        price = hand.money(*([size * 0.5] * 2 if even else (size * piece * 0.25, size * piece)))
        offers.append({"price": price, "pack_quantity": size})
        offers[-1] |= hand.some(from_packs=hand.one(1, 1, 2, 3, 5, 20))
    return {"offers": offers} | hand.some(
        charging=hand.one("stock", "order", "order"),
        measure=hand.one("piece", "m", "g", "ml"),
        spare_pct=hand.one(0, 2, "3.5", "0.4"),
        shipping_per_purchase=hand.one(0, hand.money(0, 8)),
        usual_pieces=hand.one(1, 5, 25, 137, 1000),
    )


def a_use(hand: Hand, components: dict[str, Any], **always: Any) -> dict[str, Any]:
    code = hand.one(*components)
    measured = components[code].get("measure", "piece") != "piece"
    count = hand.number(0.05, 3) if measured else hand.one(1, 2, 3, 12)
    per = hand.one("unit", "unit", "order")
    return {"component": code} | hand.some(count=count, per=per) | always


def a_piece(hand: Hand, rates: dict[str, Any]) -> dict[str, Any]:
    code = hand.one(*rates["machines"])
    machine = rates["machines"][code]
    feed = []
    for _ in range(hand.random.randint(1, 3)):
        material = hand.one(*rates["materials"])
        by = hand.one("mass_g", "mass_g", "volume_cm3", "length_m")
        # At the least density and diameter a cm3 is 0.85 g, and a metre 2.04 g.
        amount = hand.one(
            "0", hand.number(0, 250, 3), hand.number(5, 250, 3), hand.number(5, 80, 1)
        )
        feed.append({"material": material, by: amount})
        feed[-1] |= hand.some(0.4, per_build_g=hand.number(0, float(amount) * 0.8, 3))
        if "offer" in rates["materials"][material]:
            feed[-1] |= hand.some(0.2, charge=hand.one("whole_packs", "consumption"))
    minutes = hand.one(hand.random.randint(1, 2400), hand.random.randint(5, 400))
    # At the largest failure factor (2.25) this stays below ten failures in a build.
    minutes = min(minutes, int(250 * float(machine.get("hours_between_failures", 100))))
    piece = {"machine": code, "feed": feed, "print_min": minutes} | hand.some(
        nozzle=hand.one(*rates["nozzles"]),
        per_build_min=hand.random.randint(0, minutes // hand.one(1, 10)),
        pieces_per_build=hand.one(1, 2, 3, 7, 24, 60),
        count=hand.one(1, 2, 3, 5),
        power_w=hand.random.randint(0, 500),
    )
    if "hours_between_failures" not in machine:
        piece |= hand.some(0.3, first_pass_yield_pct=hand.one(100, 90, hand.number(50, 99)))
    return piece


def a_product(hand: Hand, rates: dict[str, Any]) -> dict[str, Any]:
    uses = [a_use(hand, rates["components"]) for _ in range(hand.random.randint(0, 4))]
    return {
        "pieces": [a_piece(hand, rates) for _ in range(hand.one(0, 1, 1, 1, 2, 3))]
    } | hand.some(
        0.8,
        components=uses,
        reject_pct=hand.one(0, 3, "12.5", hand.number(0, 60)),
        work=hand.some(
            0.7,
            order_min=hand.one(0, "12.5", 30),
            build_min=hand.one(0, 2, "3.75"),
            unit_min=hand.number(0, 20, 1),
            learning_pct=hand.one(100, 95, 85, 50, "92.5"),
            learning_until=hand.one(1, 2, 50, 1000, 10000),
            made_before=hand.one(0, 1, 30, 100, 5000),
        ),
        design_fee=hand.some(
            per_unit=hand.money(0, 2),
            one_off=hand.money(10, 400),
            one_off_units=hand.one(1, 7, 1000),
            share_pct=hand.one(0, 5, "7.5", 10),
        ),
    )


def a_profile(hand: Hand, rates: dict[str, Any]) -> dict[str, Any]:
    layer = hand.one("0.1", "0.2", "0.45", hand.number(0.05, 0.5, 3))
    limits = [
        {"flow_mm3_s": hand.number(2, 40, 1)} | hand.some(nozzle=nozzle, material=material)
        for nozzle, material in [(hand.one(*rates["nozzles"]), hand.one(*rates["materials"]))]
    ]
    return {
        "layer_mm": layer,
        "bead_width_mm": hand.one(layer, hand.number(0.5, 1.4, 3)),
        "outlines": hand.random.randint(0, 6),
        "solid_layers": hand.random.randint(0, 8),
        "fill_pct": hand.one(0, 15, "22.5", 100),
        "speed_mm_s": hand.number(5, 300, 1),
    } | hand.some(
        name="drawn",
        support_angle_deg=hand.one(0, 45, "57.5", 90),
        layer_change_s=hand.number(0, 6, 2),
        flow_limits=hand.one([], limits),
    )


def a_room(hand: Hand) -> dict[str, Any]:
    return hand.some(
        0.5,
        build_volume={"x_mm": hand.one(180, "220.5"), "y_mm": 210, "z_mm": hand.one(180, 250)},
        spacing_mm=hand.one(0, 3, "4.5"),
        edge_mm=hand.one(0, 5, "7.5"),
        pace=hand.one(1, "0.8", "0.65"),
    )


def a_service(hand: Hand, rates: dict[str, Any]) -> dict[str, Any]:
    """Draw a service; its machine gets a room if it has none."""
    code = hand.one(*rates["machines"])
    rates["machines"][code].setdefault("build_volume", {"x_mm": 220, "y_mm": "210.5", "z_mm": 250})
    uses = [a_use(hand, rates["components"], per=hand.one("unit", "order"))]
    return {
        "profile": hand.one(*rates["profiles"]),
        "machine": code,
        "nozzle": hand.one(*rates["nozzles"]),
        "materials": hand.random.sample(
            [*rates["materials"]], hand.one(1, len(rates["materials"]))
        ),
        "channel": "shop",
    } | hand.some(
        name="drawn",
        public=hand.one(True, False),
        work=hand.some(order_min=hand.one(0, "12.5", 30), unit_min=hand.number(0, 20, 1)),
        packing=hand.one([], uses),
        reject_pct=hand.one(0, 3, "12.5"),
        largest_box={"x_mm": 100, "y_mm": "80.5", "z_mm": 60},
    )


def an_aim(hand: Hand) -> dict[str, Any]:
    """Draw an aim; fees, tax and designer of any channel here leave enough for each."""
    by = hand.one("margin_pct", "margin_pct", "markup_pct", "unit_price")
    if by == "unit_price":
        return {by: hand.shown(0.1, hand.one(5, 60, 900))}
    if by == "markup_pct":
        return {by: hand.one(0, 50, "45.8", 900, -40, -100, hand.number(0, 200))}
    return {by: hand.one(35, "37.5", 0, "22.22", -30, -100, hand.number(-99, 60, 0))}


def a_channel(hand: Hand, components: dict[str, Any], multiple: int) -> dict[str, Any]:
    unit = 10**-hand.digits
    rows = hand.random.sample([1, 2, 3, 4, 10, 20, 100], hand.random.randint(0, 3))
    dear = hand.one(*[8] * 6, 900)  # else the postage pays for the goods
    starts = hand.random.sample([1, 5, 10, 50, 250], hand.random.randint(0, 3))
    channel = {"prices_include_tax": hand.one(True, False), "multiple_of": multiple} | hand.some(
        tax_rate_pct=hand.one(0, "5.5", 7, 19, 25),
        fee_pct=hand.one(0, "6.5", 15),
        payment_pct=hand.one(0, "1.4", "2.9", 4),
        fee_per_order=hand.money(0, 1),
        fee_per_unit=hand.money(0, 0.5),
        postage=[
            {"up_to_units": n} | hand.some(0.8, cost=hand.money(1, 12), charged=hand.shown(0, dear))
            for n in rows
        ],
        minimum_order=hand.shown(0, hand.one(20, 200, 3000)),
        margin_floor_pct=hand.one(0, 10, 35, "22.5", -50),
        packing=[a_use(hand, components, per=hand.one("unit", "order")) for _ in rows],
        margin_breaks=[
            {"from_quantity": n, "margin_pct": hand.one(40, "12.5", -20)} for n in starts
        ],
        aim=an_aim(hand),
    )
    step, ending = hand.one((1, 0), (5, 0), (50, 25), (100, 90), (1000, 999), (2500, 0))
    if hand.random.random() < 0.5:
        channel["price_step"] = f"{step * unit:.{hand.digits}f}"
        channel |= hand.some(price_ending=f"{ending * unit:.{hand.digits}f}")
    return channel


def drawn(random: Random) -> Any:
    """Draw an order: a rate sheet and a request that is priced by it."""
    currency = random.choice([*CURRENCIES, "EUR"])
    digits, euro = CURRENCIES[currency]
    hand = Hand(random, digits, euro * random.choice([1, 1, 1, 1, 0.02, 500]))
    nozzles = {
        code: hand.some(
            price=hand.money(2, 60),
            life_kg=hand.one(3, "7.5", 60),
            change_min=hand.one(0, 8, "7.25"),
        )
        for code in ["n0", "n1", "n2"][: random.randint(1, 3)]
    }
    materials = {f"mat-{n}": a_material(hand) for n in range(random.randint(1, 4))}
    machines = {f"m{n}": a_machine(hand, list(nozzles)) for n in range(random.randint(1, 3))}
    components = {f"c{n}": a_component(hand) for n in range(random.randint(1, 4))}
    multiple = hand.one(1, 1, 1, 1, 2, 12)
    sizes = [random.randint(1, hand.one(3, 12, 60, 300, 300, 2000, 8000)) for _ in range(4)]
    quantity, *breaks = (size * multiple for size in sizes)
    rates: dict[str, Any] = {
        "currency": currency,
        "labour_rate_per_hour": hand.one(0, hand.money(10, 60), hand.money(10, 60)),
        "price_per_kwh": hand.money(0.1, 0.5),
        "materials": materials,
        "nozzles": nozzles,
        "machines": machines,
        "components": components,
        "channels": {"shop": a_channel(hand, components, multiple)},
        **hand.some(
            material_overhead_pct=hand.one(0, 5, "12.5"),
            production_overhead_pct=hand.one(0, 8, 110),
            admin_overhead_pct=hand.one(0, "3.5", 12),
            default_breaks=[1, 10, 11],
        ),
    }
    request = {"product": a_product(hand, rates), "quantity": quantity, "channel": "shop"}
    request |= hand.some(0.8, breaks=breaks[: random.randint(0, 3)])
    request |= hand.some(0.25, discount_pct=hand.one(0, 10, "12.5", 100, hand.number(0, 60)))
    if "aim" not in rates["channels"]["shop"] or random.random() < 0.4:
        request["aim"] = an_aim(hand)
    for machine in machines.values():
        machine.update(a_room(hand))
    rates["profiles"] = {f"p{n}": a_profile(hand, rates) for n in range(hand.one(1, 2, 3))}
    rates["services"] = {f"s{n}": a_service(hand, rates) for n in range(hand.one(1, 2))}
    return {"rates": rates, "request": request}


def orders() -> st.SearchStrategy[Any]:
    return st.integers(0, 2**32 - 1).map(lambda seed: drawn(Random(seed)))


def price(order: Any, *, explain: bool = False) -> answer.Quote:
    return answer_quote(order["request"], sound_sheet(order["rates"]), explain=explain)


def all_breaks(quote: answer.Quote) -> list[answer.Break]:
    return [quote.at_quantity, *quote.breaks]
