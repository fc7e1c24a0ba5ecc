"""How layers are laid by a profile of a sheet, as measuring needs to know it."""

from gramhour.contract.rates import RateSheet
from gramhour_service.measuring.profile import Profile
from gramhour_service.resolve.estimated import profile_of
from gramhour_service.resolve.members import Members, Notes


def laid_by(code: str, sheet: RateSheet) -> Profile:
    """Read a profile of a sheet, with the defaults of what it leaves out, support included."""
    profiles = sheet.profiles
    assert isinstance(profiles, dict), "the code is one of the sheet's"
    described = Members(profiles[code], ("profiles", code), Notes(explain=False))
    return profile_of(described)._replace(support_angle_deg=described.amount("support_angle_deg"))
