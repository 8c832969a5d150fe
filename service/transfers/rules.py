"""When a move or a discard is refused."""

from service.kernel.errors import Invalid


class AlreadyThere(Invalid):
    """A move to where the straws stand."""

    code = "already-there"
    title = "These straws stand there already"


class OwnedAlready(Invalid):
    """Straws given to whom they belong."""

    code = "owned-already"
    title = "These straws belong there already"
