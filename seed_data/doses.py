"""The doses that were taken, over seven years and last night."""

from seed_data.taking import Dose

_OF_THE_DEAD = (
    Dose(stallion="gannet", mare="bracken", days_ago=2350, pregnant=True),
    Dose(stallion="gannet", mare="oatmeal", days_ago=2010, pregnant=False),
    Dose(stallion="gannet", mare="tansy", days_ago=1200, scanned=True, pregnant=True),
    Dose(stallion="gannet", mare="fennel", days_ago=700, scanned=True, pregnant=True),
)

_BY_STRAWS = (
    Dose(stallion="pewter", mare="larkspur", days_ago=1380, pregnant=False),
    Dose(stallion="pewter", mare="larkspur", days_ago=1358, pregnant=True),
    Dose(stallion="pewter", mare="inkwell", days_ago=1010, pregnant=True),
    Dose(stallion="pewter", mare="quince", days_ago=690, pregnant=False),
    Dose(
        stallion="pewter",
        mare="quince",
        days_ago=668,
        doses=2,
        note="Two doses, twelve hours apart, by the owner’s wish.",
        pregnant=True,
    ),
    Dose(stallion="pewter", mare="plimsoll", days_ago=330, method="uterine body", pregnant=True),
    Dose(stallion="pewter", mare="larkspur", days_ago=310, scanned=True, pregnant=False),
    Dose(stallion="umber", mare="nightjar", days_ago=1420, pregnant=True),
    Dose(stallion="umber", mare="oatmeal", days_ago=1040, pregnant=False),
    Dose(stallion="umber", mare="oatmeal", days_ago=1018, pregnant=True),
    Dose(stallion="umber", mare="thimble", days_ago=690, wall="22:55", pregnant=True),
    Dose(stallion="umber", mare="windfall", days_ago=345, pregnant=False),
    Dose(stallion="umber", mare="windfall", days_ago=323, pregnant=True),
    Dose(stallion="thistle", mare="tansy", days_ago=1050, pregnant=True),
    Dose(
        stallion="thistle",
        mare="rosehip",
        days_ago=705,
        thawed_unused=1,
        note="One straw had cracked in the bath and was not used.",
        pregnant=False,
    ),
    Dose(stallion="thistle", mare="rosehip", days_ago=350, pregnant=True),
    Dose(stallion="ninefold", mare="plimsoll", days_ago=960, pregnant=False),
    Dose(stallion="ninefold", mare="plimsoll", days_ago=938, pregnant=True),
    Dose(stallion="ninefold", mare="fennel", days_ago=340, scanned=True, pregnant=True),
    Dose(stallion="ninefold", mare="bracken", days_ago=60, scanned=True, pregnant=True),
    Dose(stallion="blavinge", mare="rosehip", days_ago=280, pregnant=True),
    Dose(
        stallion="blavinge",
        mare="thimble",
        days_ago=150,
        straws=2,
        override_reason="Hysteroscopic low dose: two straws are what I put in.",
        method="hysteroscopic",
        pregnant=True,
    ),
    Dose(stallion="blavinge", mare="quince", days_ago=100, scanned=True, pregnant=False),
    Dose(
        stallion="blavinge",
        mare="rosehip",
        days_ago=3,
        wall="18:15",
        taken_by="Sunniva Tarrant, vet in Low Ardle",
        inseminated=False,
    ),
)

_BY_SPERM = (
    Dose(stallion="saltmarsh", mare="inkwell", days_ago=1030, pregnant=True),
    Dose(stallion="saltmarsh", mare="nightjar", days_ago=680, pregnant=False),
    Dose(stallion="saltmarsh", mare="nightjar", days_ago=320, scanned=True, pregnant=True),
    Dose(stallion="quorum", mare="windfall", days_ago=655, pregnant=True),
    Dose(stallion="quorum", mare="thimble", days_ago=335, pregnant=False),
)

_CORVANES = (
    Dose(stallion="corvane", mare="larkspur", days_ago=1230, pregnant=True),
    Dose(stallion="corvane", mare="inkwell", days_ago=980, pregnant=False),
    Dose(stallion="corvane", mare="inkwell", days_ago=958, pregnant=True),
    Dose(stallion="corvane", mare="bracken", days_ago=650, pregnant=True),
    Dose(
        stallion="corvane",
        mare="oatmeal",
        days_ago=315,
        doses=2,
        used=8,
        returned_to="KESTREL-2-L1",
        note="The second dose stayed in the transport flask: she had ovulated.",
        pregnant=False,
    ),
    # One of these eight comes to light again: the hand had taken its twin.
    Dose(key="one twin too many", stallion="corvane", mare="tansy", days_ago=40, pregnant=True),
    Dose(
        stallion="corvane",
        mare="fennel",
        days_ago=9,
        scanned=True,
        seen_again="one twin too many",
        note="Scan on day 16 is due next week.",
    ),
    Dose(
        key="last night",
        stallion="corvane",
        mare="nightjar",
        days_ago=1,
        wall="22:40",
        scanned=True,
        inseminated=False,
    ),
)

DOSES = (*_OF_THE_DEAD, *_BY_STRAWS, *_BY_SPERM, *_CORVANES)
