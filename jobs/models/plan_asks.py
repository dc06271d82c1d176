"""What the plan asks of a person: sentences that say the same of several jobs are one question."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import urlencode

from django.urls import reverse


@dataclass(frozen=True, slots=True)
class PlanAsks:
    """A question: its sentence, and in `words` what is said of each of its jobs. `jobs` counts them: none for what is
    said of the studio, and then, as with one, the sentence says all. `where`: their workshops, if several."""

    sentence: str
    words: str = ""
    jobs: int = 0
    where: str = ""

    def __str__(self) -> str:
        return f"{self.sentence} ({self.where})" if self.where else self.sentence

    @property
    def url(self) -> str:
        """The page of dates with these jobs alone."""
        return f"{reverse('dates')}?{urlencode({'says': self.words})}"


def words_of(sentence: str, number: str) -> str:
    """A sentence about the job of this number, without the number."""
    return sentence.removeprefix(f"{number}: ")


def grouped(
    problems: Iterable[Mapping[str, Any]], numbers: Mapping[int, str], places: Mapping[int, str] | None = None
) -> list[PlanAsks]:
    """The problems of a plan as questions, in the order in which they first come. `numbers`: of the open jobs by key;
    what is said of any other job stays a sentence of its own. `places`: the workshop of each, if several."""
    found: dict[str, dict[int, str]] = {}
    for problem in problems:
        job: int | None = problem.get("job")
        sentence: str = problem["sentence"]
        words = sentence if job is None or job not in numbers else words_of(sentence, numbers[job])
        of = found.setdefault(words, {})
        if job is not None:
            of.setdefault(job, sentence)
    return [replace(_asks(words, of), where=_where(of, places or {})) for words, of in found.items()]


def _where(of: Mapping[int, str], places: Mapping[int, str]) -> str:
    return ", ".join(dict.fromkeys(places[job] for job in of if job in places))


def _asks(words: str, of: Mapping[int, str]) -> PlanAsks:
    if len(of) > 1:
        return PlanAsks(words[:1].upper() + words[1:], words, len(of))
    return PlanAsks(next(iter(of.values()), words), words, len(of))
