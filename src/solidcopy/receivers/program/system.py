"""Where outside programs can be run."""

import sys

from solidcopy.errors import PlanError


def check_system() -> None:
    """Raises PlanError on a system whose processes cannot be watched as it takes."""
    if sys.platform == "win32":
        raise PlanError(
            'receivers: an outside program (kind "program") needs Linux or macOS; on Windows start '
            'it from a receiver of the kind "python"'
        )
