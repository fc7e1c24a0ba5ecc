"""The three overheads of absorption costing, each on lines as they are shown."""

from decimal import Decimal

from gramhour_service.calculation.arithmetic import as_line
from gramhour_service.calculation.rules import rule


@rule
def material_overhead_line(material: Decimal, pct: Decimal) -> Decimal:
    """Material overhead: a percentage of feedstock, components and packaging as shown."""
    return as_line(material * pct / 100)


@rule
def production_overhead_line(production: Decimal, pct: Decimal) -> Decimal:
    """Production overhead: a percentage of machine, energy, wear, labour, scrap and rejects."""
    return as_line(production * pct / 100)


@rule
def admin_overhead_line(all_above: Decimal, pct: Decimal) -> Decimal:
    """Administrative overhead: a percentage of all lines above it as shown."""
    return as_line(all_above * pct / 100)
