"""How straws are thawed, in one cell: `37 C 30 s`, or `75 C 7 s + 37 C 5 s`. Pure."""

import re
from collections.abc import Sequence
from typing import Any

MOST_STEPS = 5
_HOTTEST_C = 100
_LONGEST_SECONDS = 3_600

_WATER = re.compile(
    r"([0-9]{1,3}(?:[.,][0-9]{1,4})?)\s*(?:°\s*c?|º\s*c?|c(?:elsius)?\b)", re.IGNORECASE
)
_TIME = re.compile(
    r"([0-9]{1,4}(?:[.,][0-9]{1,4})?)\s*(s|secs?|sek|seconds?|sekunden|min|minutes?|minuten)\b\.?",
    re.IGNORECASE,
)
_BETWEEN = re.compile(r"\+|;|\bthen\b|\bdann\b|→|->", re.IGNORECASE)

Steps = list[dict[str, str]]


class NotAThaw(ValueError):
    """Why a cell is no thaw protocol, in words for after the cell's text."""


def read_thaw(cell: str) -> Steps:
    """The baths in a cell, as a batch keeps them. Raises NotAThaw."""
    steps = [_step(part) for part in _BETWEEN.split(cell)]
    if len(steps) > MOST_STEPS:
        raise NotAThaw(f"has more than {MOST_STEPS} baths")
    return steps


def _step(part: str) -> dict[str, str]:
    water, times = _WATER.findall(part), _TIME.findall(part)
    rest = _TIME.sub("", _WATER.sub("", part)).strip(" \t,/.-:@")
    if len(water) != 1 or len(times) != 1 or rest.casefold() not in ("", "for", "in", "at", "bei"):
        raise NotAThaw("is not read. Write it like 37 C 30 s, or 75 C 7 s + 37 C 5 s")
    seconds = _number(times[0][0])
    if times[0][1].casefold().startswith("min"):
        seconds = str(int(seconds) * 60) if seconds.isdigit() else seconds
        if not seconds.isdigit():
            raise NotAThaw("has a part of a minute. Write seconds")
    if not 0 < float(_number(water[0])) <= _HOTTEST_C:
        raise NotAThaw(f"has water that is not between 0 and {_HOTTEST_C} °C")
    if not 0 < float(seconds) <= _LONGEST_SECONDS:
        raise NotAThaw(f"takes no time, or more than {_LONGEST_SECONDS:,} seconds")
    return {"water_c": _number(water[0]), "seconds": seconds}


def _number(text: str) -> str:
    whole, _, part = text.replace(",", ".").partition(".")
    part = part.rstrip("0")
    return str(int(whole)) + (f".{part}" if part else "")


def written_thaw(steps: Sequence[dict[str, Any]]) -> str:
    """The baths as they go out into a cell."""
    return " + ".join(f"{step['water_c']} C {step['seconds']} s" for step in steps)
