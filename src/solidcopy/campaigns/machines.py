"""Machines that lend workers, and how alike they are."""

from collections import Counter
from collections.abc import Iterable

from solidcopy.campaigns.admission import Member
from solidcopy.campaigns.environment import Machine


def machines_of(members: Iterable[Member]) -> tuple[Machine, ...]:
    """Each machine once, by name; one whose workers are unlike each other, more than once."""
    n_workers = Counter(
        (tried.host, tried.cpu, tried.platform, compared)
        for tried, compared in ((member.tried, member.compared) for member in members)
        if tried is not None and compared is not None
    )
    machines = [
        Machine(
            host=host,
            cpu=cpu,
            platform=platform,
            n_workers=n,
            n_trials=compared.n_trials,
            n_other_sound=compared.n_other_sound,
            n_answers=compared.n_answers,
            n_other_answers=compared.n_other_answers,
        )
        for (host, cpu, platform, compared), n in n_workers.items()
    ]
    return tuple(sorted(machines, key=lambda machine: (machine.host, machine.n_other_sound)))


def unlike_words(machine: Machine) -> str:
    """How a machine's reference trials differ from the others', as a phrase."""
    if machine.n_other_sound == 0:
        return f"sample for sample alike in each trial compared ({machine.n_trials})"
    answers = (
        f"{machine.n_answers - machine.n_other_answers} of {machine.n_answers} answers of "
        "receivers to them are alike"
        if machine.n_answers
        else "no answers to them could be compared"
    )
    return (
        f"makes other samples in {machine.n_other_sound} of {machine.n_trials} trials compared; "
        f"{answers}"
    )
