"""Whether two curves of any two campaigns may be compared, and what is different between them."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from solidcopy.campaigns.journal import JournalReader
from solidcopy.reports.axis import axis_facts, field_words
from solidcopy.reports.describe import condition_facts, receiver_facts
from solidcopy.reports.facts import AxisFacts, Described
from solidcopy.reports.wording import counted, listed, plain, quoted
from solidcopy.statistics.evidence import NoEvidence
from solidcopy.trials.condition import Condition
from solidcopy.trials.expand import TrialKey
from solidcopy.trials.plan import LEVEL_FIELDS
from solidcopy.trials.readings import QUANTITY_NAMES
from solidcopy.trials.recipes import Recipes, recipes_of_curve, recipes_of_receiver
from solidcopy.trials.trial import SENT

RECEIVER = "receiver "
"""Start of the names of receivers among what has a recipe."""


@dataclass(frozen=True, slots=True)
class OneCurve:
    """One curve of a campaign: a condition heard by a receiver, by their 0-based places."""

    label: str
    """"A" or "B" in sentences about both."""
    reader: JournalReader
    condition: int
    receiver: int

    @property
    def settings(self) -> Condition:
        """Of the condition."""
        return self.reader.plan.conditions[self.condition]

    @property
    def name(self) -> str:
        """Condition and receiver."""
        return f"{self.settings.name}, {self.reader.plan.receivers[self.receiver].name}"

    def recipes(self) -> Recipes | NoEvidence:
        """All recipe numbers that the curve was made with."""
        of_recordings, of_answers = self.reader.identities(self.condition, self.receiver)
        curve = recipes_of_curve(self.reader.plan, self.settings, of_recordings)
        receiver = recipes_of_receiver(self.reader.plan.receivers[self.receiver], of_answers)
        for found in (curve, receiver):
            if isinstance(found, NoEvidence):
                return found
        assert not isinstance(curve, NoEvidence) and not isinstance(receiver, NoEvidence)
        return {**curve, **receiver}

    def quantities(self) -> set[str]:
        """Names of the levels that its recordings' readings hold."""
        found: set[str] = set()
        for value in self.reader.plan.axis.points():
            for readings in self.reader.readings(self.condition, value, 1).values():
                found |= {level.quantity for level in readings.levels}
        return found


@dataclass(frozen=True, slots=True)
class Unlike:
    """One reason against a comparison."""

    reason: str
    is_receivers_recipe: bool = False
    """Both heard alike, with other versions of a receiver: a question that may be asked."""


def unlike(a: OneCurve, b: OneCurve) -> tuple[Unlike, ...]:
    """All reasons why two curves must not be compared; none if they may be."""
    reasons = (_mode, _axis, _messages, _definitions, _recipes)
    return tuple(found for reason in reasons for found in reason(a, b))


def _mode(a: OneCurve, b: OneCurve) -> Iterator[Unlike]:
    modes = a.reader.plan.mode, b.reader.plan.mode
    if modes[0] != modes[1]:
        yield Unlike(f"other mode: {modes[0]} in A, {modes[1]} in B")


def _axis(a: OneCurve, b: OneCurve) -> Iterator[Unlike]:
    fields, words = [], []
    for curve in (a, b):
        axis = axis_facts(curve.reader.plan)
        fields.append((axis.field, axis.quantity, axis.unit, axis.sense))
        words.append(f"{axis.label} (field {axis.field} of {axis.owner})")
    if fields[0] == fields[1] or (fields[0][0] == fields[1][0] and fields[0][0] in LEVEL_FIELDS):
        return
    what = "other axis"
    if fields[0][2] != fields[1][2]:
        what += f", in {' and '.join(quoted(unit or 'no unit') for _, _, unit, _ in fields)}"
    yield Unlike(f"{what}: {words[0]} in A, {words[1]} in B")


def shared_axis(a: OneCurve, b: OneCurve) -> AxisFacts:
    """The axis of both in words; a level of unlike disturbances is that of "the disturbance"."""
    axes = [axis_facts(curve.reader.plan) for curve in (a, b)]
    values = tuple(sorted({*axes[0].values, *axes[1].values}))
    if axes[0].owner == axes[1].owner:
        return replace(axes[0], values=values)
    quantity, unit, sense = field_words("disturbance", axes[0].field)
    return AxisFacts("disturbance", axes[0].field, quantity, unit, sense, values)


def _messages(a: OneCurve, b: OneCurve) -> Iterator[Unlike]:
    sent = [curve.settings.sending.message for curve in (a, b)]
    if sum(message == "random" for message in sent) == 1:
        words = ["a new one in each trial" if m == "random" else f'always "{m}"' for m in sent]
        yield Unlike(f"other kind of message: {words[0]} in A, {words[1]} in B")


def _definitions(a: OneCurve, b: OneCurve) -> Iterator[Unlike]:
    """What the readings in the journals say of their reference bandwidths and quantities."""
    held = {curve.label: curve.quantities() for curve in (a, b)}
    widths = {label: _bandwidths(names) for label, names in held.items()}
    if widths["A"] and widths["B"] and widths["A"] != widths["B"]:
        words = [f"{listed(widths[label])} in {label}" for label in ("A", "B")]
        yield Unlike(f"other reference bandwidth of the SNR: {', '.join(words)}")
        return
    for label, names in held.items():
        unknown = sorted(names - set(QUANTITY_NAMES.values()))
        if unknown:
            yield Unlike(
                f"{label} was measured by other definitions: its readings hold "
                f"{listed([quoted(name) for name in unknown])}, which this program does not know"
            )


def _bandwidths(quantities: set[str]) -> list[str]:
    found = {match[1] for name in quantities for match in re.finditer(r"in (\d+ Hz)", name)}
    return sorted(found)


def _recipes(a: OneCurve, b: OneCurve) -> Iterator[Unlike]:
    if a.reader.identities(a.condition, a.receiver) == b.reader.identities(b.condition, b.receiver):
        return
    found = {curve.label: curve.recipes() for curve in (a, b)}
    for label, recipes in found.items():
        if isinstance(recipes, NoEvidence):
            yield Unlike(f"{label} cannot be checked: {recipes.reason}")
    first, second = found["A"], found["B"]
    if isinstance(first, NoEvidence) or isinstance(second, NoEvidence):
        return
    for owner in first:
        if owner in second and first[owner] != second[owner]:
            yield Unlike(
                f"other recipe number of {owner}: {first[owner]} in A, {second[owner]} in B, so "
                "the same settings do not mean the same",
                owner.startswith(RECEIVER),
            )


def differences(a: OneCurve, b: OneCurve) -> tuple[str, ...]:
    """Every setting in which the two differ, in plain words; none if they are the same."""
    found = [*_parts(_condition_parts(a), _condition_parts(b))]
    if not found and _contents(a) != _contents(b):
        found.append("what the recorded noise holds: files of the same name differ")
    found += _parts(_receiver_parts(a), _receiver_parts(b))
    found += _audio(a, b)
    return tuple(found)


def _contents(curve: OneCurve) -> object:
    return curve.settings.identity()


def _condition_parts(curve: OneCurve) -> dict[str, Described]:
    """By head; a further one of the same head has its number."""
    named: dict[str, Described] = {}
    for part in condition_facts(curve.reader.plan, curve.settings).parts:
        n_before = sum(head.split(" (")[0] == part.head for head in named)
        named[part.head if not n_before else f"{part.head} ({n_before + 1})"] = part
    return named


def _receiver_parts(curve: OneCurve) -> dict[str, Described]:
    receiver = curve.reader.plan.receivers[curve.receiver]
    return {part.head: part for part in receiver_facts(receiver).parts}


def _parts(a: Mapping[str, Described], b: Mapping[str, Described]) -> Iterator[str]:
    for head in dict.fromkeys((*a, *b)):
        if head not in b:
            yield f"{head}: only in A ({_numbers(a[head])})"
        elif head not in a:
            yield f"{head}: only in B ({_numbers(b[head])})"
        else:
            first, second = dict(a[head].numbers), dict(b[head].numbers)
            for name in dict.fromkeys((*first, *second)):
                left, right = first.get(name, "not given"), second.get(name, "not given")
                if left != right:
                    left, right = _without_explanation(left, right)
                    yield f"{head}, {name}: {left} in A, {right} in B"


def _without_explanation(left: str, right: str) -> tuple[str, str]:
    """Two values of one field without the words in brackets that both end with."""
    ends = [text[text.index(" (") :] if text.endswith(")") else "" for text in (left, right)]
    if ends[0] and ends[0] == ends[1]:
        return left.removesuffix(ends[0]), right.removesuffix(ends[0])
    return left, right


def _numbers(part: Described) -> str:
    return "; ".join(f"{name} {value}" for name, value in part.numbers) or "no numbers"


def _audio(a: OneCurve, b: OneCurve) -> Iterator[str]:
    first, second = (curve.reader.plan.audio for curve in (a, b))
    words = {
        "sample_rate_hz": ("sample rate of the recordings", "Hz"),
        "level_dbfs": ("level of the whole mix", "dBFS"),
        "internal_rate_hz": ("rate inside the receiver's chain", "Hz"),
    }
    for field, (name, unit) in words.items():
        left, right = (_setting(getattr(audio, field), unit) for audio in (first, second))
        if left != right:
            yield f"{name}: {left} in A, {right} in B"


def _setting(value: object, unit: str) -> str:
    return f"{plain(value)} {unit}" if isinstance(value, int | float) else str(value or "none")


def pairing(a: OneCurve, b: OneCurve) -> tuple[bool, str]:
    """Whether both met the same messages and noise, trial by trial, and why or why not."""
    seeds = a.reader.plan.root_seed, b.reader.plan.root_seed
    if seeds[0] != seeds[1]:
        return False, (
            f"Not paired: their root seeds are {seeds[0]} and {seeds[1]}, so they met other "
            "messages and noise; the interval takes the two thresholds as independent."
        )
    shared = set(a.reader.plan.axis.points()) & set(b.reader.plan.axis.points())
    if not shared:
        return False, (
            "Not paired: they have no axis value in common, so they met other messages and noise; "
            "the interval takes the two thresholds as independent."
        )
    said = (
        f"Paired: the root seed is {seeds[0]} in both, so at {counted(len(shared), 'axis value')} "
        "each trial of one met the same messages and draws of noise as that of the other."
    )
    n_other = sum(_has_other_samples(a, b, value) for value in shared)
    if n_other:
        said += (
            f" But at {n_other} of them the first recordings of the two differ, though their "
            "recipes are the same: other versions or another machine made them, and the pairs may "
            "have less in common than they should. The interval uses what they have."
        )
    return True, said


def _has_other_samples(a: OneCurve, b: OneCurve, value: float) -> bool:
    """Whether recordings that should be equal are not; of other conditions nothing is known."""
    of_a, of_b = (curve.reader.identities(curve.condition, curve.receiver)[0] for curve in (a, b))
    if of_a != of_b:
        return False
    digests = set()
    for curve in (a, b):
        if not curve.reader.n_counted(curve.condition, curve.receiver, value):
            return False
        key = TrialKey(curve.condition, SENT, value, 0)
        digests.add(curve.reader.outcome(key, curve.receiver).digest)
    return len(digests) > 1 and "" not in digests
