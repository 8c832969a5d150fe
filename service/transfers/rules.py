"""When a move or a discard is refused."""

from service.kernel.errors import Conflict, Invalid


class AlreadyThere(Invalid):
    """A move to where the straws stand."""

    code = "already-there"
    title = "These straws stand there already"


class ReserveReached(Conflict):
    """A discard that would leave less than the stallion's reserve."""

    code = "reserve-reached"
    title = "These are his last doses"
