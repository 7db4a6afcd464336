"""The one way to the picture library: loaded when first asked for, with one clear sentence if it is missing."""

from nest.errors import PlanProblem


class PhotographProblem(PlanProblem):
    """A photograph that cannot be used; the text is one sentence with the remedy."""


def opencv():
    """The module cv2, once it is sure that scipy is there too.

    Raises
    ------
    PlanProblem
        If either is not installed.
    """
    try:
        import cv2
        import scipy  # noqa: F401
    except ImportError as error:
        raise PlanProblem(
            'Photographs need the extra "photo": install it with pip install "vampyield[photo]".'
        ) from error
    return cv2
