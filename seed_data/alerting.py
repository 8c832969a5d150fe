"""Who is told at Quillhaven: three mailboxes, the yard's own board, and a weekly rota.

The mailboxes and the board are real receivers of the demo's own (`mailroom`), on this machine only.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from sqlmodel import Session, select

from seed_data.chronicle import Chronicle, Moment, Step
from service.alerts import channels, plans
from service.alerts.channels import NewChannel
from service.alerts.store import Channel, plan_of
from service.kernel.acts import Act

DOMAIN = "quillhaven.example"
BOARD = "Yard board"

#: Monday is 0. From then on: who, and who second.
_ROTA = ((0, "07:00", "magnus", "tilda"), (4, "18:00", "vera", "magnus"))


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelEntered:
    """A way to reach somebody was entered."""

    name: str
    person: str | None
    wall: str
    digest: bool = False

    def steps(self) -> Iterator[Step]:
        """The manager did; the addresses lead nowhere until the mailroom opens."""
        yield Step(Moment(3, self.wall), "magnus", self._do)

    def _do(self, chronicle: Chronicle, act: Act) -> None:
        new = NewChannel(
            name=self.name,
            kind="email" if self.person else "webhook",
            target=f"{self.person}@{DOMAIN}" if self.person else "http://127.0.0.1:9/",
            person_id=chronicle.people[self.person].id if self.person else None,
            priorities=["critical", "medium"],
            digest=self.digest,
            enabled=True,
        )
        channels.add_channel(chronicle.db, act, new)


@dataclass(frozen=True, slots=True, kw_only=True)
class RotaMade:
    """Who is on duty from when on, every week."""

    def steps(self) -> Iterator[Step]:
        """The manager made it."""
        yield Step(Moment(3, "17:00"), "magnus", self._do)

    @staticmethod
    def _do(chronicle: Chronicle, act: Act) -> None:
        ids = {name: str(person.id) for name, person in chronicle.people.items()}
        handovers = [
            {"weekday": day, "at": at, "person_id": ids[who], "second_id": ids[second]}
            for day, at, who, second in _ROTA
        ]
        plans.change_rota(chronicle.db, act, {"handovers": handovers})


ALERTING = (
    ChannelEntered(name="Magnus by e-mail", person="magnus", wall="16:10", digest=True),
    ChannelEntered(name="Tilda by e-mail", person="tilda", wall="16:20"),
    ChannelEntered(name="Vera by e-mail", person="vera", wall="16:30"),
    ChannelEntered(name=BOARD, person=None, wall="16:40"),
    RotaMade(),
)


def deliver_here(db: Session, *, smtp_port: int, board_url: str) -> None:
    """Let messages go to receivers on this machine; they are elsewhere after each start."""
    plan = plan_of(db)
    plan.mail_host, plan.mail_port, plan.mail_security = "127.0.0.1", smtp_port, "none"
    plan.mail_sender = f"rimebook@{DOMAIN}"
    db.add(plan)
    board = db.exec(select(Channel).where(Channel.name == BOARD)).first()
    if board is not None:
        board.target = board_url
        db.add(board)
