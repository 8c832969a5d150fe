"""What a file may be, and the refusals of this part. Pure.

All limits are ours: far above what a station's own list holds, and low enough for a small machine.
"""

from collections.abc import Sequence
from typing import Any

from service.kernel.errors import Conflict, Forbidden, Invalid

#: Limits of one file; source: ours.
LARGEST_FILE_BYTES = 5_000_000
MOST_ROWS = 50_000
MOST_COLUMNS = 100
#: A note of the book has so many signs at most, and goes out with an apostrophe before it.
LONGEST_NOTE = 4_000
MOST_SIGNS_A_CELL = 4_096

#: Such a file in base 64 inside a JSON body, with the answers beside it.
LARGEST_BODY_BYTES = 7_000_000

#: How many rows an answer lists; the totals always speak of all.
MOST_ROWS_SHOWN = 1_000


class UnreadableFile(Invalid):
    """A file that is no table of text; `line` is where it went wrong, where there is one."""

    code = "unreadable-file"
    title = "This file cannot be read as a table"


class FileTooLarge(Invalid):
    """Beyond a limit that nobody's own list reaches."""

    code = "file-too-large"
    title = "This file is too large"


class BadAnswer(Invalid):
    """An answer (a column, a field) that does not fit the file."""

    code = "bad-answer"
    title = "This answer does not fit the file"


class MakingStallions(Forbidden):
    """Stallions are entered by a vet or a manager."""

    code = "stallions-are-a-vets"
    title = "Only a vet or a manager enters stallions"


class ImportRefused(Conflict):
    """Rows that cannot be booked, or questions that are open: nothing was booked."""

    code = "import-refused"
    title = "Nothing was booked"

    def __init__(self, detail: str, *, problems: Sequence[str], **facts: Any) -> None:
        super().__init__(detail, problems=list(problems), **facts)
