"""Whether a batch may leave: days in store since collection, and the tests it is said to need.

Pure: no HTTP, no database, no clock. It reckons and tells; the vet decides, and local rules and the
authority's own form come before it.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

#: Where the days and the tests of the defaults come from.
SOURCE = "Directive 92/65/EEC Annex D as amended by Regulation (EU) 176/2010, from memory"

Result = Literal["negative", "positive", "pending"]

Health = Literal["positive", "negative", "not known"]


@dataclass(frozen=True, slots=True)
class Sample:
    """A test as it was recorded."""

    test: str
    sampled_on: date
    result: Result


@dataclass(frozen=True, slots=True)
class Found:
    """What is known of one test; without a result nobody recorded any."""

    test: str
    result: Result | None = None
    sampled_on: date | None = None


@dataclass(frozen=True, slots=True)
class Clearance:
    """What there is and what is lacking on one day.

    Days count from the day of collection, which is day 0; straws may leave on day `days_needed`
    (convention), which is `full_on`. Both are None while the day of collection is not known.
    """

    days_in_store: int | None
    days_needed: int
    full_on: date | None
    tests: list[Found]

    @property
    def days_full(self) -> bool:
        """Whether it is long enough in store."""
        return self.days_in_store is not None and self.days_in_store >= self.days_needed

    @property
    def missing_tests(self) -> list[str]:
        """Tests that are needed and that nobody recorded."""
        return [one.test for one in self.tests if one.result is None]

    @property
    def pending_tests(self) -> list[str]:
        """Tests that were sampled and are not answered yet."""
        return self._found("pending")

    @property
    def positive_tests(self) -> list[str]:
        """Tests that found something."""
        return self._found("positive")

    @property
    def negative_tests(self) -> list[str]:
        """Tests that found nothing."""
        return self._found("negative")

    @property
    def clear(self) -> bool:
        """Whether nothing is lacking: the days are full, and every test is negative.

        A test that nobody asks for counts too, once it was sampled: somebody waits for its answer.
        """
        return self.days_full and all(one.result == "negative" for one in self.tests)

    @property
    def said(self) -> str:
        """All of it, as a person would tell it."""
        told = [
            ("Positive", self.positive_tests),
            ("Not answered yet", self.pending_tests),
            ("Not recorded", self.missing_tests),
            ("Negative", self.negative_tests),
        ]
        tests = [f"{what}: {', '.join(tests)}." for what, tests in told if tests]
        return " ".join([self.days_said, *(tests or ["No test is asked for."])])

    @property
    def days_said(self) -> str:
        """The days in words."""
        if self.days_in_store is None or self.full_on is None:
            return "The day of collection is not known, so no days can be counted."
        if self.days_full:
            counted = "1 day" if self.days_in_store == 1 else f"{self.days_in_store} days"
            return f"{counted} in store since collection; {self.days_needed} are asked for."
        return (
            f"{self.days_in_store} of {self.days_needed} days in store since collection; "
            f"full on {self.full_on.day} {self.full_on:%b %Y}."
        )

    def _found(self, result: Result) -> list[str]:
        return [one.test for one in self.tests if one.result == result]


def folded(test: str) -> str:
    """What makes two names one test: case and spacing do not count."""
    return " ".join(test.split()).casefold()


def reckon(
    *,
    collected_on: date | None,
    today: date,
    days_needed: int,
    required_tests: Sequence[str],
    samples: Iterable[Sample],
) -> Clearance:
    """The clearance on a day. `samples` come in the order they were recorded."""
    full_on = None if collected_on is None else collected_on + timedelta(days=days_needed)
    return Clearance(
        days_in_store=None if collected_on is None else max(0, (today - collected_on).days),
        days_needed=days_needed,
        full_on=full_on,
        tests=newest(required_tests, samples),
    )


def newest(required_tests: Sequence[str], samples: Iterable[Sample]) -> list[Found]:
    """Of each test what counts: those needed first, in their order, then the others.

    The one sampled last counts, of one day the one recorded last.
    """
    found = {folded(test): Found(test) for test in required_tests}
    for sample in samples:
        name = folded(sample.test)
        known = found.get(name, Found(sample.test))
        if known.sampled_on is None or sample.sampled_on >= known.sampled_on:
            found[name] = Found(known.test, sample.result, sample.sampled_on)
    return list(found.values())


def health_of(required_tests: Sequence[str], samples: Iterable[Sample]) -> Health:
    """Positive when any test found something, negative when every one that is needed did not."""
    states = newest(required_tests, samples)
    if any(one.result == "positive" for one in states):
        return "positive"
    needed = states[: len({folded(test) for test in required_tests})]
    return "negative" if all(one.result == "negative" for one in needed) else "not known"
