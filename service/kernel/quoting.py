"""How a refusal repeats what arrived: short, and without signs that would garble its sentence."""

_LONGEST = 20


def shown(text: str) -> str:
    """At most the first 20 signs; control, direction and half signs are replaced."""
    short = text if len(text) <= _LONGEST else text[:_LONGEST] + "…"
    return "".join(sign if sign.isprintable() else "�" for sign in short)
