"""How the curve of a condition runs along the axis: what its fit has to know of radio."""

from dataclasses import dataclass

from solidcopy.impairments.path.fading import MultiPathFading, TwoPathFading
from solidcopy.statistics.points import Points
from solidcopy.statistics.shapes import Form
from solidcopy.trials.condition import Condition
from solidcopy.trials.plan import LEVEL_FIELDS, Plan
from solidcopy.trials.together import n_together

FALLING_FIELD = "interference_to_noise_db"
"""More of it is harder; along every other level right is easier."""


@dataclass(frozen=True, slots=True)
class CurveShape:
    """What a fit takes for granted.

    Args:
        form: of the curve; one of free skewness where the signal fades along an axis of levels.
        is_falling: whether fewer messages get through the larger the axis value.
        n_together: trials in a row that share their luck.
    """

    form: Form = "probit"
    is_falling: bool = False
    n_together: int = 1

    def rising(self, points: Points) -> Points:
        """The points of a curve that rises: mirrored if it falls."""
        return points.mirrored() if self.is_falling else points


def fading_of(condition: Condition) -> list[TwoPathFading | MultiPathFading]:
    """The impairments of a condition that fade."""
    return [path for path in condition.paths() if isinstance(path, TwoPathFading | MultiPathFading)]


def form_of(condition: Condition, *, is_level: bool) -> Form:
    """Form of the curve: one of free skewness where the signal fades along an axis of levels."""
    return "faded" if is_level and fading_of(condition) else "probit"


def curve_shape(plan: Plan, condition: int) -> CurveShape:
    """Of the condition at that place, whatever the receiver."""
    owner, field = plan.swept_label()
    is_level = field in LEVEL_FIELDS or (owner, field) == ("sending", "signal_dbfs")
    named = plan.conditions[condition]
    form = form_of(named, is_level=is_level)
    return CurveShape(form, field == FALLING_FIELD, n_together(named))
