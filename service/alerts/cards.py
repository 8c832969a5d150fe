"""A card for each kind of alert: what it means, what to do, how long there is, whose job it is.

Priorities: critical, straws may be lost within hours; medium, somebody acts today; low, this week.
The split that is aimed at is 5 % high, 15 % medium, 80 % low (ISA-18.2 and IEC 62682 as practice
guidance quotes them; the standards themselves were not read).
"""

from collections.abc import Mapping
from datetime import timedelta

from service.alerts.rules import KINDS, Card

_NITROGEN = (
    "Nitrogen suffocates and burns: never fill or enter alone, nor when an oxygen alarm sounds; "
    "face shield, loose cryogenic gloves, closed shoes. Your local rules come first."
)

CARDS: Mapping[str, Card] = {
    "low-nitrogen": Card(
        title="Nitrogen below the minimum level",
        priority="critical",
        owner="technician",
        means=(
            "The last reading stands below the level that this tank must not fall under. Straws in "
            "the upper goblets may soon stand above the liquid; straws that thawed are lost, "
            "whatever is filled in afterwards."
        ),
        what_to_do=(
            "Read the level once more.",
            "Top the tank up now, or move its straws into a tank that is full.",
            "Enter the top-up, so that everybody sees it is done.",
            "If the tank was dry: look at the straws before anybody uses one, and put the batches "
            "on hold.",
        ),
        how_long="Hours. How many says the loss of this tank: see its page.",
        again_after=timedelta(hours=8),
        caution=_NITROGEN,
    ),
    "nitrogen-loss-rising": Card(
        title="The tank loses more than it did",
        critical_title="The tank is failing",
        priority="medium",
        owner="technician",
        means=(
            "The tank boils off more than its own settled past. Failing means credibly more than "
            "twice that, or twice its rated loss, or frost, sweat or noise outside: its vacuum is "
            "going, and it can be empty within a day or two."
        ),
        what_to_do=(
            "Look for frost, sweat or noise outside, and read the level again.",
            "Failing: fill it today and move its straws into another tank.",
            "Rising: read it every day until it is clear why; look at lid and neck plug.",
        ),
        how_long="Failing: act today. Rising: this week, with daily readings.",
        again_after=timedelta(hours=8),
        off_delay=timedelta(hours=12),
        caution=_NITROGEN,
    ),
    "minimum-before-top-up": Card(
        title="The minimum comes before the next round",
        priority="medium",
        owner="technician",
        means=(
            "As this tank loses nitrogen now, it may fall to its minimum level before the next day "
            "on which tanks are filled here."
        ),
        what_to_do=(
            "Fill this tank before then: see the next rounds for the day it can wait for.",
            "Enter the top-up.",
        ),
        how_long="Until the day that the alert names.",
        again_after=timedelta(days=1),
        parents=("low-nitrogen", "nitrogen-loss-rising"),
        caution=_NITROGEN,
    ),
    "level-overdue": Card(
        title="Nobody has read this tank",
        priority="medium",
        owner="technician",
        means=(
            "No level was entered for longer than this station leaves between two readings. What "
            "is not measured may be empty."
        ),
        what_to_do=("Read the level and enter it.",),
        how_long="Today.",
        again_after=timedelta(days=1),
        caution=_NITROGEN,
    ),
    "top-up-due": Card(
        title="To be topped up today",
        priority="low",
        owner="technician",
        means="The round of today has this tank in it: it cannot wait for the next one.",
        what_to_do=("Fill it on today's round.", "Enter the top-up."),
        how_long="Today.",
        parents=("low-nitrogen", "nitrogen-loss-rising", "minimum-before-top-up"),
        caution=_NITROGEN,
    ),
    "low-stock": Card(
        title="Few doses are left",
        priority="medium",
        owner="manager",
        means=(
            "What may be used of this stallion makes fewer doses than the limit that was set for "
            "him. Straws on hold, in quarantine, owned by others or in the reserve do not count."
        ),
        what_to_do=(
            "He is alive: plan a collection.",
            "He is dead: decide who the last doses are for; raise the reserve so that they stay.",
            "The limit is wrong: change it on the stallion's page.",
        ),
        how_long="This week; at the pace of the season the forecast says until when.",
        again_after=timedelta(days=7),
    ),
    "run-out-forecast": Card(
        title="His doses will run out soon",
        priority="low",
        owner="manager",
        means=(
            "By what was used in other months of the year, what is left may be used up within the "
            "time that the station looks ahead."
        ),
        what_to_do=(
            "See the forecast on the stallion's page.",
            "Plan a collection, or promise the last doses to whom they are for.",
        ),
        how_long="Weeks. The alert names the likely day.",
        off_delay=timedelta(days=2),
        parents=("low-stock",),
    ),
    "hold-ended": Card(
        title="A hold has ended",
        priority="low",
        owner="vet",
        means="The day until which this batch was held back has come: it may be used from now on.",
        what_to_do=(
            "See that the results it waited for are there and negative.",
            "They are not: put it on hold again.",
        ),
        how_long="Before it is used.",
    ),
    "straws-out-too-long": Card(
        title="Straws are out and nothing is recorded",
        priority="medium",
        owner="vet",
        means=(
            "Straws were taken out of a tank hours ago, and neither an insemination nor a return "
            "nor a discard stands in the book."
        ),
        what_to_do=(
            "Used: record the insemination.",
            "Still in a nitrogen vessel: bring them back, if they stayed under nitrogen all the "
            "time.",
            "Not known: look for them now. What thawed is discarded.",
        ),
        how_long="Today. Straws in a small vessel last only as long as its nitrogen.",
        again_after=timedelta(days=1),
    ),
    "stock-difference": Card(
        title="Book and tanks do not agree",
        priority="medium",
        owner="manager",
        means=(
            "A stock-take found goblets that hold more or fewer straws than the book says, or more "
            "straws were lost unexplained within a year than this station accepts."
        ),
        what_to_do=(
            "See the differences and what may have happened.",
            "Let somebody else count those goblets again.",
            "Ask who last worked there; propose what is true, with a reason.",
        ),
        how_long="This week, while people remember.",
        again_after=timedelta(days=7),
    ),
    "backup-overdue": Card(
        title="No backup in time",
        priority="medium",
        owner="manager",
        means="If the disk breaks now, what was booked since the last verified backup is lost.",
        what_to_do=(
            "See the backups page for why it failed.",
            "Is the disk of the backups there, and has it room?",
            "Make one by hand: rimebook backup FOLDER.",
        ),
        how_long="Today.",
        again_after=timedelta(days=1),
    ),
    "ledger-not-sound": Card(
        title="The book is not sound",
        priority="critical",
        owner="manager",
        means=(
            "Reading the whole book found entries that do not follow from each other, or stock "
            "that the entries do not add up to. Somebody changed the file, or the disk is failing."
        ),
        what_to_do=(
            "Stop booking. Copy the data folder as it is to another disk.",
            "Run rimebook check: it names the first entry that is wrong.",
            "Compare the head with an earlier daily summary, then restore the last sound backup.",
        ),
        how_long="Now, before more is booked on top.",
        again_after=timedelta(hours=8),
    ),
    "service-heartbeat": Card(
        title="Nobody was watching",
        priority="medium",
        owner="manager",
        means=(
            "Rimebook itself did not run, or a part of it stopped, so for that time nobody watched "
            "tanks and stock."
        ),
        what_to_do=(
            "Read the levels of all tanks now if it was long.",
            "Find out why the machine was off, and set it to start Rimebook by itself.",
        ),
        how_long="Today.",
        again_after=timedelta(days=1),
    ),
    "disk-filling": Card(
        title="The disk fills up",
        critical_title="The disk is nearly full",
        priority="medium",
        owner="manager",
        means="When the disk of the book is full, nothing can be booked any more.",
        what_to_do=("Free some space, or move old backups to another disk.",),
        how_long="Days; below 5 % hours.",
        again_after=timedelta(days=1),
    ),
    "delivery-failing": Card(
        title="Messages do not arrive",
        priority="medium",
        owner="manager",
        means="A channel does not take what is sent to it. Alerts wait and are tried again.",
        what_to_do=(
            "Look at the open alerts here in the meantime.",
            "See the channel's last error, mend it, and send a test.",
        ),
        how_long="Today: the next alert would not reach anybody this way.",
        again_after=timedelta(days=1),
    ),
}


def refuse_kinds_without_card() -> None:
    """Stop the start (RuntimeError) when a kind has no card, or one that leaves a person alone."""
    for kind in KINDS:
        card = CARDS.get(kind)
        if card is None:
            raise RuntimeError(f"alerts of the kind {kind} have no card: say what to do")
        if not (card.means and card.what_to_do and card.how_long):
            raise RuntimeError(f"the card of {kind} does not say what it means or what to do")
