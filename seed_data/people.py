"""The four people of the station. Their passwords are public: they open nothing but the demo."""

from dataclasses import dataclass

from service.kernel.acts import Role


@dataclass(frozen=True, slots=True, kw_only=True)
class Invented:
    """Somebody who may sign in."""

    role: Role
    username: str
    display_name: str

    @property
    def password(self) -> str:
        """Long enough for any account, and plainly not a secret."""
        return f"{self.username}-quillhaven-demo"


#: Each one's name begins with the same letter as the role, so that nobody has to look it up twice.
PEOPLE = (
    Invented(role="technician", username="tilda", display_name="Tilda Oakmarrow"),
    Invented(role="vet", username="vera", display_name="Dr Vera Sallowby"),
    Invented(role="manager", username="magnus", display_name="Magnus Thornquill"),
    Invented(role="auditor", username="agda", display_name="Agda Penrowan"),
)
