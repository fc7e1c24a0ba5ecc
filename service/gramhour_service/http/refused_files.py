"""Why a file was not measured, as the contract's refusal."""

from gramhour.contract.problem import Refused
from gramhour_service.http.problems import refused
from gramhour_service.measuring.bounds import Refused as RefusedFile

PROBLEM_OF = {
    "unreadable": "cannot-be-measured",
    "takes-too-long": "cannot-be-measured",
    "too-large": "body-too-large",
    "other-media-type": "unsupported-media-type",
}


def refused_file(error: RefusedFile) -> Refused:
    """Tell a file's refusal as that of a request."""
    return refused(PROBLEM_OF[error.kind], error.detail)
