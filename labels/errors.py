"""Why a label is not drawn: said in words that tell a person what to do instead."""

from collections.abc import Sequence


class NotDrawn(ValueError):
    """A label that would not be what it promises, and so is not drawn at all."""


class DoesNotFit(NotDrawn):
    """Words that have no room at the smallest height that can still be read."""

    def __init__(self, words: Sequence[str], smallest_mm: float, where: str) -> None:
        self.words = tuple(words)
        self.smallest_mm = smallest_mm
        self.where = where
        listed = ", ".join(f"“{word}”" for word in self.words)
        super().__init__(
            f"{where} has no room for {listed}, not even in letters {smallest_mm:g} mm high. "
            "Shorten them, or choose a larger label."
        )


class NotHonest(NotDrawn):
    """A symbol that this printer cannot draw so that it is read dependably."""


class CannotDraw(NotDrawn):
    """Letters that our typefaces do not have."""

    def __init__(self, letters: Sequence[str], text: str) -> None:
        self.letters = tuple(dict.fromkeys(letters))
        self.text = text
        listed = " ".join(self.letters)
        super().__init__(
            f"“{text}” has letters that labels cannot show: {listed}. Labels have Latin, Greek, "
            "Cyrillic, Georgian, Hebrew, Arabic, Thai and Devanagari letters; write it in one of "
            "these."
        )
