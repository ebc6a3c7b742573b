"""One comparison by what a person types: within a campaign, or of two campaigns."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from solidcopy.actions.compare import Compared, compare
from solidcopy.actions.compare_across import Across, Asked, compare_across
from solidcopy.actions.folder import existing_folder, plan_of
from solidcopy.errors import PlanError


@dataclass(frozen=True, slots=True)
class Named:
    """Options that name the curves."""

    within: str | None = None
    """Within one campaign: the receiver or condition that both share."""
    a: str | None = None
    """Of two campaigns: condition and receiver of the first."""
    b: str | None = None
    """The same of the second."""
    anyway: str | None = None
    """Of two campaigns: why to compare two versions of a receiver."""


@dataclass(frozen=True, slots=True)
class AnyComparison:
    """A comparison of either kind."""

    found: Compared | Across

    @property
    def text(self) -> str:
        """For a person."""
        return self.found.sentence if isinstance(self.found, Compared) else self.found.text

    def as_dict(self) -> dict[str, Any]:
        """For a program."""
        return self.found.as_dict()


def compare_any(source: Path, name: str, against: str | None, named: Named) -> AnyComparison:
    """Two conditions or receivers of one campaign; without `against`, two campaigns.

    Args:
        source: campaign folder or plan file.
        name: a condition or receiver of it; without `against`, another campaign.
        against: another condition or receiver.
    Raises: PlanError for options that have no meaning in that kind of comparison, too.
    """
    if against is None:
        _refuse(within=named.within, reason="two campaigns have no condition or receiver in common")
        if not Path(name).exists() and name in _names(source):
            raise PlanError(f'"{name}" is of this campaign: say what to compare it with')
        a, b = Asked(source, named.a), Asked(Path(name), named.b)
        return AnyComparison(compare_across(a, b, anyway=named.anyway))
    _refuse(
        a=named.a,
        b=named.b,
        anyway=named.anyway,
        reason="it is for two campaigns: give two folders and nothing else",
    )
    return AnyComparison(compare(source, name, against, within=named.within))


def _names(source: Path) -> set[str]:
    """Of all conditions and receivers of a campaign."""
    plan = plan_of(existing_folder(source))
    return {named.name for named in (*plan.conditions, *plan.receivers)}


def _refuse(*, reason: str, **options: str | None) -> None:
    for option, value in options.items():
        if value is not None:
            raise PlanError(f"--{option} has no meaning here: {reason}")
