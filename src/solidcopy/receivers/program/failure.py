"""Why a program's answer to a slot counts as a failure, in one line."""

from solidcopy.receivers.child_process import TOO_LATE, ending_words
from solidcopy.receivers.failure import MAX_LENGTH
from solidcopy.receivers.program.guardian import Ended
from solidcopy.receivers.program.settings import ProgramSettings

N_LAST_LINES = 3


def failure_of(ended: Ended, settings: ProgramSettings, *, said: str, folder: str) -> str | None:
    """What went wrong, with the last lines of what the program said; None if nothing did.

    Args:
        ended: how it went.
        settings: its limits and exit codes.
        said: its standard error, or else its output, from `safe_text`.
        folder: its working folder, whose name changes from worker to worker; it is put back into
            braces, so that the same failure reads the same everywhere.
    """
    if ended.not_started:
        return f"the program cannot be started ({ended.not_started})"
    if ended.limit == "time":
        reason = TOO_LATE.format(settings.time_limit_s)
    elif ended.limit == "output":
        reason = f"it wrote more than {settings.output_limit_bytes} bytes"
    elif ended.limit == "memory":
        reason = f"it took more than {settings.memory_limit_mb} MB of memory"
    elif ended.exit_code not in settings.ok_exit_codes:
        reason = f"the program {ending_words(ended.exit_code)}"
    else:
        return None
    last = [line.strip() for line in said.split("\n") if line.strip()][-N_LAST_LINES:]
    text = " / ".join(last).replace(folder, "{working_folder}")
    room = MAX_LENGTH - len(reason) - len("; it said: …")
    if len(text) > room:
        text = "…" + text[-room:]
    return f"{reason}; it said: {text}" if text else reason
