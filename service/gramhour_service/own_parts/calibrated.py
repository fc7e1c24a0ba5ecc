"""Builds that were timed, into the pace and the change of layer that fit them best."""

from decimal import Decimal

from msgspec import UNSET

from gramhour.contract.calibration import (
    CalibratedBuild,
    Calibration,
    CalibrationRequest,
    TimedBuild,
)
from gramhour.contract.problem import Fault, Refused, pointer
from gramhour.contract.rates import RateSheet
from gramhour_service.calculation.arithmetic import costing_arithmetic, half_even
from gramhour_service.measuring.calibration import CannotCalibrate, Timed, calibrate
from gramhour_service.measuring.estimate import flow_mm3_s, printing_minutes
from gramhour_service.measuring.profile import Profile
from gramhour_service.own_parts.profiles import laid_by
from gramhour_service.resolve.estimated import flow_limit
from gramhour_service.resolve.members import Notes
from gramhour_service.resolve.rates import Rates

CM3 = 1000
ONE, NONE = Decimal(1), Decimal(0)


def calibrated(asked: CalibrationRequest, sheet: RateSheet) -> Calibration:
    """Calibrate a machine and a profile of a sheet. Raises ``Refused`` with every fault found."""
    with costing_arithmetic():
        rates = Rates(sheet, Notes(explain=False))
        profile = laid_by(asked.profile, sheet)
        volumes = _volumes(asked.builds, rates)
        flows = [_flow(asked, build.material, profile, rates) for build in asked.builds]
        timed = [
            Timed(printing_minutes(volume, NONE, flow, ONE, NONE), build.layers, build.actual_min)
            for build, volume, flow in zip(asked.builds, volumes, flows, strict=True)
        ]
        try:
            found = calibrate(timed, profile.layer_change_s)
        except CannotCalibrate as error:
            raise Refused("invalid-request", (Fault("/builds", str(error)),)) from None
        pace = rates.members("machines", asked.machine).amount("pace")
        told = [
            CalibratedBuild(
                name=build.name,
                actual_min=float(build.actual_min),
                estimated_min=_rounded(_minutes(each, pace, profile.layer_change_s)),
                calibrated_min=_rounded(build.actual_min - residual),
                residual_min=_rounded(residual),
            )
            for build, each, residual in zip(asked.builds, timed, found.residuals_min, strict=True)
        ]
    return Calibration(
        pace=found.pace,
        layer_change_s=found.layer_change_s,
        fitted=list(found.fitted),
        largest_residual_min=max((each.residual_min for each in told), key=abs),
        builds=told,
    )


def _volumes(builds: list[TimedBuild], rates: Rates) -> list[Decimal]:
    """Say how many mm³ each build laid down. Raises ``Refused``."""
    volumes, faults = [], []
    for n, build in enumerate(builds):
        density = rates.members("materials", build.material).optional_amount("density_g_cm3")
        if build.volume_cm3 is not UNSET:
            volumes.append(build.volume_cm3 * CM3)
        elif density is not None and build.mass_g is not UNSET:
            volumes.append(build.mass_g / density * CM3)
        else:
            detail = f"the material '{build.material}' has no density_g_cm3; give volume_cm3"
            faults.append(Fault(pointer("builds", n, "mass_g"), detail))
    if faults:
        raise Refused("invalid-request", tuple(faults))
    return volumes


def _flow(asked: CalibrationRequest, material: str, profile: Profile, rates: Rates) -> Decimal:
    nozzle = None if asked.nozzle is UNSET else asked.nozzle
    return flow_mm3_s(
        profile, flow_limit(rates.members("profiles", asked.profile), nozzle, material)
    )


def _minutes(build: Timed, pace: Decimal, layer_change_s: Decimal) -> Decimal:
    return build.flow_min / pace + build.layers * layer_change_s / 60


def _rounded(minutes: Decimal) -> float:
    return float(half_even(minutes, 2))
