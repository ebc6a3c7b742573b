"""What merging campaigns gave, as values and in words."""

from dataclasses import asdict, dataclass
from typing import Any

from solidcopy.campaigns.journal.merge import TakenIn
from solidcopy.reports.wording import counted, whole


@dataclass(frozen=True, slots=True)
class Part:
    """One of the campaigns that were merged."""

    folder: str
    taken_in: TakenIn
    other_environment: tuple[tuple[str, str, str], ...]
    """Library or property, its value here and in the first campaign, where they differ."""
    first_unlike: str
    """First trial about which it disagrees with those before it; empty if there is none."""

    def text(self) -> str:
        """For a person: one line, and one more where the machines differ."""
        said = self.taken_in
        line = f"{self.folder}: {counted(said.n_added, 'outcome')} taken in"
        if said.n_recordings or said.n_answers:
            shared = f"{counted(said.n_answers, 'answer')} to {counted(said.n_recordings, 'trial')}"
            line += f"; {shared} are in those before, too"
            line += ", and all agree" if said.agrees else f": {self._unlike()}; kept is the first"
        if self.other_environment:
            line += f"\n  carried out otherwise than the first: {self._environment()}"
            if not said.n_recordings:
                line += (
                    "; no trial is in both, so it is not known whether samples and answers agree: "
                    "run a few trials on both machines"
                )
        return line

    def disagreement(self) -> str:
        """Why nothing was merged."""
        where = f" What differs between the machines: {self._environment()}."
        return (
            f"{self.folder} disagrees with the campaigns before it: {self._unlike()}."
            f"{where if self.other_environment else ''} Nothing was merged; find out which is "
            "right (`solidcopy remake` makes a trial anew), or add --keep-first to keep what the "
            "campaign named first says"
        )

    def _unlike(self) -> str:
        said, found = self.taken_in, []
        if said.n_other_samples:
            found.append(
                f"{whole(said.n_other_samples)} of {counted(said.n_recordings, 'shared trial')} "
                "with other samples"
            )
        of_answers = f"of {counted(said.n_answers, 'shared answer')}"
        if said.n_other_verdicts:
            found.append(f"{whole(said.n_other_verdicts)} {of_answers} with another verdict")
        if said.n_other_figures:
            found.append(
                f"{whole(said.n_other_figures)} {of_answers} with the same verdict and other "
                "figures"
            )
        if not said.n_other_verdicts and not said.n_other_figures:
            found.append("all shared answers agree")
        return f"{', '.join(found)}; the first is trial {self.first_unlike}"

    def _environment(self) -> str:
        return ", ".join(
            f"{name} {here} (first: {there})" for name, here, there in self.other_environment
        )


@dataclass(frozen=True, slots=True)
class Merged:
    """A campaign made of others."""

    folder: str
    parts: tuple[Part, ...]

    @property
    def n_outcomes(self) -> int:
        """Of all parts."""
        return sum(part.taken_in.n_added for part in self.parts)

    def text(self) -> str:
        """For a person."""
        total = f"{counted(self.n_outcomes, 'outcome')} in one campaign: {self.folder}"
        return "\n".join([*(part.text() for part in self.parts), total])

    def as_dict(self) -> dict[str, Any]:
        """For a program."""
        return {"n_outcomes": self.n_outcomes, **asdict(self)}
