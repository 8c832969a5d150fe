"""Codes in a picture that somebody took: bounded, looked at, and forgotten."""

import io
import threading

from labels.reading import Reading, read
from service.kernel import codes
from service.kernel.codes import Code, MisreadCode
from service.lookup import rules

#: What a telephone sends, and what is bounded: bytes before they are read, pixels before they are
#: unpacked.
MOST_BYTES, MOST_PIXELS = 8_000_000, 24_000_000

MEDIA_TYPES = {"image/jpeg": "JPEG", "image/png": "PNG", "image/webp": "WEBP"}

_BROKEN = (OSError, ValueError, SyntaxError, EOFError, MemoryError, RuntimeError, ArithmeticError)

#: A picture takes a whole core for a moment: others wait, so that the book stays quick meanwhile.
_one_at_a_time = threading.Lock()


def codes_in(picture: bytes, media_type: str) -> tuple[Code, ...]:
    """The codes in a picture, each once, in the order they were found.

    Raises OtherPicture, NotAPicture, NothingRead, MisreadCode.

    What other people's symbols say is left out; a symbol with a wrong check sign is a misread.
    """
    kind = MEDIA_TYPES.get(media_type)
    if kind is None:
        raise rules.OtherPicture(
            "Send the picture as JPEG, PNG or WebP, with its Content-Type.",
            media_types=list(MEDIA_TYPES),
        )
    with _one_at_a_time:
        found = [one.text for one in _read(picture, kind)]
    if not found:
        raise rules.NothingRead(
            "No symbol was found in the picture. Go nearer, give it light, hold it flat and still; "
            "wipe off frost. Or type the nine signs printed beside it."
        )
    return tuple(dict.fromkeys(_ours(found)))


def _read(picture: bytes, kind: str) -> tuple[Reading, ...]:
    from PIL import Image

    try:
        with Image.open(io.BytesIO(picture), formats=[kind]) as opened:
            if opened.width * opened.height > MOST_PIXELS:
                raise rules.NotAPicture(
                    f"The picture has {opened.width} × {opened.height} points, more than "
                    f"{MOST_PIXELS // 1_000_000} million. Send a smaller one."
                )
            return read(opened)
    except rules.NotAPicture:
        raise
    # Whatever a broken or hostile file does to the library that unpacks it.
    except (*_BROKEN, Image.DecompressionBombError, Image.DecompressionBombWarning) as error:
        raise rules.NotAPicture(
            "This is not a picture that can be opened. Take it again."
        ) from error


def _ours(texts: list[str]) -> list[Code]:
    """Those that are codes; what is none at all is somebody else's symbol."""
    ours: list[Code] = []
    misread: MisreadCode | None = None
    for text in texts:
        try:
            ours.append(codes.read(text))
        except MisreadCode as error:
            misread = error
    if misread is not None and not ours:
        raise misread
    return ours
