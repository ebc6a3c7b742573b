"""Array namespaces: the one of the accelerator, and the way back to this machine's memory."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from solidcopy.errors import PlanError

Namespace = Any
"""`numpy`, or a module that offers the same functions for arrays elsewhere."""
Array = Any
"""An array of a namespace; shapes and types are said where it occurs."""

ASKED = 'receivers: arithmetic = "accelerator" is asked for, but '
WAY_OUT = 'or leave `arithmetic` out to decode on the processor ("compiled")'


def accelerator_namespace() -> Namespace:
    """The namespace of this machine's accelerator.

    Raises: PlanError that says what is missing, if there is none or it cannot be used.
    """
    try:
        # Here and not above: it is optional, and opens the device.
        import cupy  # noqa: PLC0415
    except ImportError:
        raise PlanError(
            f"{ASKED}the package cupy is not installed: on a machine with an NVIDIA graphics "
            f'processor install "solidcopy[accelerator]", {WAY_OUT}'
        ) from None
    try:
        # The first sum compiles a kernel, so it also shows whether the toolkit is complete.
        is_sound = int(cupy.arange(5).sum()) == 10
    except Exception as error:
        first_line = str(error).strip().splitlines()[:1] or [type(error).__name__]
        raise PlanError(
            f"{ASKED}no graphics processor can be used here ({first_line[0]}): run it where "
            f"`nvidia-smi` lists one, {WAY_OUT}"
        ) from None
    if not is_sound:
        raise PlanError(f"{ASKED}the graphics processor adds wrongly: mend it, {WAY_OUT}")
    return cupy


def on_host(array: Array) -> NDArray[Any]:
    """The array in this machine's memory."""
    return np.asarray(array.get() if hasattr(array, "get") else array)
