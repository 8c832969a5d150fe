"""When a receipt is refused, and what is told of straws whose story begins elsewhere.

Pure: no HTTP, no database, no clock.
"""

from collections.abc import Mapping
from datetime import date
from typing import Any, Literal

from service.bank.rules import Warned
from service.kernel.errors import Conflict, Invalid

#: `opening`: straws that were here before this book; `received`: straws that came from elsewhere.
Kind = Literal["opening", "received"]


def entry_facts(
    batch: Mapping[str, Any],
    *,
    stored: int,
    coded: bool,
    hold_until: date | None,
    hold_reason: str | None,
) -> dict[str, Any]:
    """What the entry says of a batch that came in; `batch` has the columns of its row.

    What doses are reckoned from stands in the book too, so that changing it later shows. Whose the
    straws are is said beside it: `owner`, or `owners` by code.
    """
    return {
        "batch_code": batch["code"],
        "stallion_id": batch["stallion_id"],
        "kind": batch["origin"],
        "from": batch["received_from"],
        "marks_as_read": batch["marks_as_read"],
        "stored": stored,
        "coded": coded,
        "collected_on": batch["collected_on"],
        "collected_where": batch["collected_where"],
        "approval_number": batch["approval_number"],
        "straw_volume_ml": batch["straw_volume_ml"],
        "straw_concentration_million_per_ml": batch["straw_concentration_million_per_ml"],
        "progressive_motility_percent": batch["post_thaw_percent"],
        "hold_until": hold_until,
        "hold_reason": hold_reason,
    }


class CodeTaken(Conflict):
    """A new straw under a code that stands for another one."""

    code = "code-taken"
    title = "This code stands for another straw"


class CodesWithoutLabels(Invalid):
    """Codes named for straws that are said to have none."""

    code = "codes-without-labels"
    title = "Straws without labels have no codes"


class OneBatchAReceipt(Invalid):
    """Straws of several batches, or new ones beside those that come back, in one receipt."""

    code = "one-batch-a-receipt"
    title = "A receipt is of one batch"


class WrongStallion(Invalid):
    """Straws that come back and are of another stallion than the one named."""

    code = "wrong-stallion"
    title = "These straws are of another stallion"


class KnownAlready(Invalid):
    """Facts given for straws whose batch is in the book already."""

    code = "known-already"
    title = "The batch of these straws is in the book already"


def weigh_unknown(
    *,
    kind: Kind,
    collected_on: date | None,
    collected_where: str | None,
    approval_number: str | None,
    marks_as_read: str | None,
    thaw_known: bool,
    came_from: str | None,
    coded: bool,
) -> list[Warned]:
    """What nobody knows of these straws, and what that costs. Nothing is guessed instead."""
    asked: list[tuple[bool, str, str, str]] = [
        (
            collected_on is None,
            "collected-on-unknown",
            "collected_on",
            "The day of collection is not known, so days in store cannot be counted.",
        ),
        (
            not thaw_known,
            "thaw-missing",
            "thaw",
            "Without a thaw protocol whoever takes these straws gets no thaw card. "
            "Ask the laboratory that froze them.",
        ),
        (
            marks_as_read is None and not coded,
            "marks-unknown",
            "marks_as_read",
            "No mark is written down, so these straws can be told from others by their place only.",
        ),
        (
            approval_number is None,
            "approval-number-missing",
            "approval_number",
            f"The approval number of {collected_where or 'the place of collection'} is not known. "
            "It is asked for when straws go to another place.",
        ),
        (
            kind == "received" and came_from is None,
            "sender-unknown",
            "from",
            "Nobody wrote down where these straws come from.",
        ),
    ]
    return [Warned(code, field, message) for wanting, code, field, message in asked if wanting]
