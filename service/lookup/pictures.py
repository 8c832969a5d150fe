"""Codes in a picture that somebody took: bounded, looked at, and forgotten."""

import io
from time import monotonic

from labels.reading import Reading, read
from service.kernel import codes
from service.kernel.codes import Code, MisreadCode
from service.lookup import rules

#: What a telephone sends, and what is bounded: bytes before they are read, pixels before they are
#: unpacked.
MOST_BYTES, MOST_PIXELS = 8_000_000, 24_000_000

#: A photograph has one to a dozen scans (JPEG, ISO/IEC 10918-1, "start of scan"). Each one more
#: takes as long as all pixels do and some forty bytes: eight megabytes of them an hour.
_SCAN, _MOST_SCANS = b"\xff\xda", 64

#: For how long a picture is tried again; most take a tenth of a second.
_MOST_SECONDS = 3.0

MEDIA_TYPES = {"image/jpeg": "JPEG", "image/png": "PNG", "image/webp": "WEBP"}


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
    found = [one.text for one in _read(picture, kind)]
    if not found:
        raise rules.NothingRead(
            "No symbol was found in the picture. Go nearer, give it light, hold it flat and still; "
            "wipe off frost. Or type the nine signs printed beside it."
        )
    return tuple(dict.fromkeys(_ours(found)))


def _read(picture: bytes, kind: str) -> tuple[Reading, ...]:
    from PIL import Image

    until = monotonic() + _MOST_SECONDS
    try:
        with Image.open(io.BytesIO(picture), formats=[kind]) as opened:
            if opened.width * opened.height > MOST_PIXELS:
                raise rules.NotAPicture(
                    f"The picture has {opened.width} × {opened.height} points, more than "
                    f"{MOST_PIXELS // 1_000_000} million. Send a smaller one."
                )
            if kind == "JPEG" and picture.count(_SCAN) > _MOST_SCANS:
                raise rules.NotAPicture("No camera makes such a picture. Take it again.")
            # Of a JPEG no more than its light is unpacked.
            opened.draft("L", opened.size)
            return read(opened, wanted=_is_ours, go_on=lambda: monotonic() < until)
    except rules.NotAPicture:
        raise
    # Whatever a broken or hostile file does to the library that unpacks it, which has no error of
    # its own for that: thousands of broken pictures raised a dozen kinds.
    except Exception as error:
        raise rules.NotAPicture(
            "This is not a picture that can be opened. Take it again."
        ) from error


def _is_ours(text: str) -> bool:
    try:
        codes.read(text)
    except MisreadCode:
        return False
    return True


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
