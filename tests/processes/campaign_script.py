"""A campaign run by a script of its own, so that tests can kill it: FOLDER N_WORKERS."""

import sys
from contextlib import closing
from pathlib import Path

from campaign_samples import PLAN, RECEIVERS_FOLDER

from solidcopy.campaigns.engine import EngineSettings, run_campaign


def main(folder: Path, n_workers: int) -> None:
    settings = EngineSettings(n_workers=n_workers, import_folders=(RECEIVERS_FOLDER,))
    with closing(run_campaign(PLAN, folder, settings=settings)) as steps:
        for progress in steps:
            print(progress.line(), flush=True)


if __name__ == "__main__":
    try:
        main(Path(sys.argv[1]), int(sys.argv[2]))
    except KeyboardInterrupt:
        sys.exit(130)
