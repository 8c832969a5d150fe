"""What is refused when a picture is to be read."""

from service.kernel.errors import Invalid, OtherKind


class NothingRead(Invalid):
    """A picture without a symbol that can be read."""

    code = "nothing-read"
    title = "Nothing was read"


class NotAPicture(Invalid):
    """Bytes that are no picture, or one that is too large to be opened."""

    code = "not-a-picture"
    title = "This is not a picture"


class OtherPicture(OtherKind):
    """A kind of picture that is not read here."""

    code = "other-picture"
    title = "This kind of picture is not read"
