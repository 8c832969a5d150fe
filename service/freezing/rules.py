"""When a freeze, a result or a hold is refused."""

from service.kernel.errors import Conflict, Invalid, Unknown


class UnknownBatch(Unknown):
    """There is no such batch."""

    code = "unknown-batch"
    title = "There is no such batch"


class UnknownGoblet(Unknown):
    """There is no such goblet."""

    code = "unknown-goblet"
    title = "There is no such goblet"


class WrongBatch(Invalid):
    """A prepared batch of another stallion."""

    code = "wrong-batch"
    title = "This batch was prepared for another stallion"


class NotPrepared(Conflict):
    """The batch was frozen before."""

    code = "already-frozen"
    title = "This batch is frozen already"


class NotFrozen(Conflict):
    """The batch is only prepared."""

    code = "not-frozen"
    title = "This batch is not frozen yet"


class NotOnHold(Conflict):
    """Nothing to release."""

    code = "not-on-hold"
    title = "This batch is not on hold"


class WrongStraws(Invalid):
    """Straws of another batch where this batch's are needed."""

    code = "wrong-straws"
    title = "These straws are of another batch"
