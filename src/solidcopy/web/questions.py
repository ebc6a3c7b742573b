"""What a person may ask on the first page: one card for each question, in plain words."""

from dataclasses import dataclass

from solidcopy.actions.new_plan import Question


@dataclass(frozen=True, slots=True)
class QuestionCard:
    """One question.

    Args:
        words: the question.
        gives: what is compared, and what comes out.
    """

    question: Question
    words: str
    gives: str


QUESTION_CARDS = (
    QuestionCard(
        Question.NOISE,
        "How much noise does the signal stand?",
        "Even noise only, louder and louder: the weakest signal that still gets through.",
    ),
    QuestionCard(
        Question.CARRIER,
        "What does a carrier nearby cost?",
        "A whistle inside the signal, steady or keyed, beside even noise alone: the loss in dB.",
    ),
    QuestionCard(
        Question.BAND_NOISE,
        "What does somebody else's signal cost?",
        "A wide, rough signal over the wanted one, beside even noise alone: the loss in dB.",
    ),
    QuestionCard(
        Question.IMPULSES,
        "What do impulses cost?",
        "Clicks at random and in a steady beat, with as much power as the noise: the loss in dB.",
    ),
    QuestionCard(
        Question.RECORDING,
        "What does my own noise cost?",
        "A recording of your own band in place of even noise of the same power: the loss in dB.",
    ),
    QuestionCard(
        Question.PROTECTION,
        "How strong may a carrier be?",
        "A whistle at every distance from the signal: how strong it may be at each.",
    ),
)


@dataclass(frozen=True, slots=True)
class Elsewhere:
    """A question that has a page of its own."""

    words: str
    gives: str
    address: str


ELSEWHERE = (
    Elsewhere(
        "Which receiver copies more?",
        "Two receivers hear the very same slots, until it is shown which one decodes more.",
        "/duel",
    ),
    Elsewhere(
        "Which setting copies more?",
        "Blanker on or off, wide or narrow filter: the very same slots both ways.",
        "/duel",
    ),
)
