"""What stops a log from being read: what is wrong with it, or what it does not say."""

from collections.abc import Sequence
from typing import NamedTuple

from studio.errors import StudioError

PROBLEMS_SHOWN = 20


class LogProblem(StudioError):
    """A file that was not imported, and why.

    Attributes
    ----------
    problems : list of (int, str)
        Line number and what is wrong there; the first twenty.
    count : int
        How many lines are wrong in all.
    """

    def __init__(self, message: str, problems: Sequence[tuple[int, str]] = ()) -> None:
        super().__init__(message)
        self.problems = list(problems[:PROBLEMS_SHOWN])
        self.count = len(problems)


class Question(NamedTuple):
    """Something that a file does not say, named as `read_log` takes the answer."""

    name: str
    text: str
    choices: list[tuple[str, str]]
    """Each answer with its words."""
    likely: str = ""
    """The answer that fits best, if one does."""


class LogQuestions(LogProblem):
    """A file that can be read once these questions are answered.

    Attributes
    ----------
    questions : list of Question
        What to ask.
    columns : str
        The file's header: the next file with the same one leaves the same unsaid.
    """

    def __init__(self, questions: Sequence[Question], columns: str) -> None:
        super().__init__(" ".join(question.text for question in questions))
        self.questions = list(questions)
        self.columns = columns


class Doubts:
    """Gathers questions while reading goes on as if the first answer had been given."""

    def __init__(self) -> None:
        self.questions: list[Question] = []

    def ask(self, question: Question) -> str:
        """Note a question once; return an answer to go on with."""
        if question.name not in {known.name for known in self.questions}:
            self.questions.append(question)
        return question.choices[0][0]
