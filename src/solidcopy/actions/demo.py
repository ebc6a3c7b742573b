"""The demo: what do the things around a harbour cost a small club station?"""

import shutil
from importlib import resources
from pathlib import Path

from solidcopy.actions.harbour.fence_recording import write_fence_recording


def prepare_demo(folder: Path) -> Path:
    """Write the demo's recording and its plan into a folder; files that are there stay.

    Returns: the plan file.
    """
    folder.mkdir(parents=True, exist_ok=True)
    recording, plan = folder / "fence.wav", folder / "harbour.toml"
    if not recording.exists():
        write_fence_recording(recording)
    if not plan.exists():
        source = resources.files("solidcopy.actions.harbour") / "harbour.toml"
        with resources.as_file(source) as path:
            shutil.copyfile(path, plan)
    return plan
