"""How layers are laid by a profile of a sheet, as measuring needs to know it."""

from decimal import Decimal

from gramhour.contract.profile import Profile as DescribedProfile
from gramhour.contract.rates import RateSheet
from gramhour_service.measuring.profile import Profile
from gramhour_service.resolve.members import defaults_of


def laid_by(code: str, sheet: RateSheet) -> Profile:
    """Read a profile of a sheet, with the defaults of what it leaves out."""
    profiles = sheet.profiles
    assert isinstance(profiles, dict), "the code is one of the sheet's"
    described, defaults = profiles[code], defaults_of(DescribedProfile)

    def amount(name: str) -> Decimal:
        value = getattr(described, name)
        given: Decimal = value if isinstance(value, Decimal) else defaults[name]
        return given

    return Profile(
        layer_mm=described.layer_mm,
        bead_width_mm=described.bead_width_mm,
        outlines=described.outlines,
        solid_layers=described.solid_layers,
        fill_pct=described.fill_pct,
        support_angle_deg=amount("support_angle_deg"),
        speed_mm_s=described.speed_mm_s,
        layer_change_s=amount("layer_change_s"),
    )
