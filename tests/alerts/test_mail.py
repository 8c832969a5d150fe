"""E-mail through a real server: encrypted or not at all, the same message each time, one line."""

import email
import email.policy
import logging
import socket
import ssl
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from email.message import EmailMessage
from typing import Any, Literal

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, AuthResult, Envelope, LoginPassword

from service.alerts import mail
from service.alerts.letters import NotSent
from service.alerts.mail import BadMailbox, MailServer, checked_mailbox
from tests.alerts.receivers import WRITTEN, drip, letter, proving, talking, trusting

USER, PASSWORD = "rimebook", "c0rrect-horse"
SENDER, TO = "alerts@station.example", "vet@practice.example"

# The library warns of what it is asked for here: sign in, and no TLS.
pytestmark = pytest.mark.filterwarnings("ignore:Requiring AUTH while not requiring TLS")


class Mailbox:
    """What a mail server took; `answers` are given to a command instead of taking it."""

    def __init__(self) -> None:
        self.taken: list[Envelope] = []
        self.signed_in: list[LoginPassword] = []
        self.commands: list[str] = []
        self.answers: dict[str, str] = {}
        self.port = 0

    async def handle_MAIL(  # noqa: N802
        self, server: SMTP, session: Any, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        self.commands.append("MAIL")
        envelope.mail_from = address
        envelope.mail_options.extend(options)
        return self.answers.get("MAIL", "250 OK")

    async def handle_RCPT(  # noqa: N802
        self, server: SMTP, session: Any, envelope: Envelope, address: str, options: list[str]
    ) -> str:
        if "RCPT" in self.answers:
            return self.answers["RCPT"]
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(  # noqa: N802
        self, server: SMTP, session: Any, envelope: Envelope
    ) -> str:
        if "DATA" in self.answers:
            return self.answers["DATA"]
        self.taken.append(envelope)
        return "250 OK"

    def sign_in(self, server: SMTP, *rest: Any) -> AuthResult:
        said = rest[-1]
        self.signed_in.append(said)
        fine = said == LoginPassword(USER.encode(), PASSWORD.encode())
        return AuthResult(success=fine, handled=False)

    def message(self, at: int = -1) -> EmailMessage:
        content = self.taken[at].content
        assert isinstance(content, bytes)
        read = email.message_from_bytes(content, policy=email.policy.default)
        assert isinstance(read, EmailMessage)
        assert read.defects == []
        return read

    def text(self, at: int = -1) -> str:
        said: str = self.message(at).get_content()
        return said.replace("\r\n", "\n")

    def server(self, security: Literal["starttls", "tls", "none"], **other: Any) -> MailServer:
        signing_in = security != "none"
        return replace(
            MailServer(
                host="127.0.0.1",
                port=self.port,
                security=security,
                username=USER if signing_in else None,
                password=PASSWORD if signing_in else None,
                sender=SENDER,
            ),
            **other,
        )


@contextmanager
def mailbox(
    security: Literal["starttls", "tls", "none"] = "starttls",
    *,
    shown: str = "127.0.0.1",
    **how: Any,
) -> Iterator[Mailbox]:
    """A mail server on this machine whose certificate is that of `shown`."""
    box = Mailbox()
    certificate = None if security == "none" else proving(shown)
    told: dict[str, Any] = {"authenticator": box.sign_in, "auth_require_tls": False, **how}
    if security != "none":
        told["auth_required"] = True
    if security == "starttls":
        told["tls_context"] = certificate
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        box.port = free.getsockname()[1]
    controller = Controller(
        box,
        "127.0.0.1",
        box.port,
        ssl_context=certificate if security == "tls" else None,
        server_hostname="127.0.0.1",
        **told,
    )
    controller.start()
    try:
        yield box
    finally:
        controller.stop()


def send(server: MailServer, to: str = TO, **other: Any) -> None:
    how = {name: other.pop(name) for name in ("tls", "seconds", "now") if name in other}
    known = {"tls": trusting(), "now": WRITTEN}
    mail.send(letter(**other), server, to, **{**known, **how})


@pytest.fixture(scope="module")
def shared() -> Iterator[Mailbox]:
    with mailbox(enable_SMTPUTF8=False) as box:
        yield box


@pytest.fixture
def box(shared: Mailbox) -> Mailbox:
    shared.taken, shared.signed_in, shared.commands, shared.answers = [], [], [], {}
    return shared


def test_it_arrives_encrypted_and_signed_in(box: Mailbox) -> None:
    send(box.server("starttls"), text="Füll tank 3.\n\n.\nFrom here on\n" + "long " * 400)
    (taken,) = box.taken
    assert (taken.mail_from, taken.rcpt_tos) == (SENDER, [TO])
    assert box.signed_in == [LoginPassword(USER.encode(), PASSWORD.encode())]
    read = box.message()
    assert read["From"].addresses[0].addr_spec == SENDER
    assert [each.addr_spec for each in read["To"].addresses] == [TO]
    assert read["Subject"] == "Tank 3 is low"
    assert read["Date"].datetime == WRITTEN
    assert read["Message-ID"] == f"<{letter().id}@station.example>"
    assert read["Auto-Submitted"] == "auto-generated"
    assert read.get_content_type() == "text/plain"
    assert read.get_content_charset() == "utf-8"
    assert box.text() == "Füll tank 3.\n\n.\nFrom here on\n" + "long " * 400 + "\n"
    assert {"Importance", "X-Priority", "Rimebook-Attempt"}.isdisjoint(read.keys())


def test_every_line_is_short_and_in_seven_bits(box: Mailbox) -> None:
    send(box.server("starttls"), subject="Größe " * 60, text="Größe \0 \ud800 " * 300)
    content = box.taken[0].content
    assert isinstance(content, bytes)
    assert content.isascii()
    assert max(map(len, content.split(b"\r\n"))) <= 78
    assert b"\n" not in content.replace(b"\r\n", b"")
    assert box.message()["Subject"] == ("Größe " * 60)[:200].strip()


def test_tls_from_the_first_byte() -> None:
    with mailbox("tls") as box:
        send(box.server("tls"))
        assert len(box.taken) == 1
        assert len(box.signed_in) == 1


def test_a_repeat_is_the_same_message_and_says_so(box: Mailbox) -> None:
    send(box.server("starttls"))
    send(box.server("starttls"), attempt=2)
    first, again = box.message(0), box.message(1)
    assert first["Message-ID"] == again["Message-ID"]
    assert first["Date"] == again["Date"]
    assert first.get_content() == again.get_content()
    assert again["Rimebook-Attempt"] == "2"


def test_an_urgent_one_says_so(box: Mailbox) -> None:
    send(box.server("starttls"), urgent=True)
    assert (box.message()["Importance"], box.message()["X-Priority"]) == ("high", "1")


def test_one_that_is_late_says_so(box: Mailbox) -> None:
    send(box.server("starttls"), now=WRITTEN + timedelta(minutes=59))
    send(box.server("starttls"), now=WRITTEN + timedelta(hours=5))
    assert "Written on" not in box.message(0).get_content()
    assert box.message(1).get_content().startswith("Written on 2026-03-03 at 12:00 UTC")


BREAKS = ["\r\n", "\n", "\r", "\0", "\v", "\f", "\x1c", "\x1d", "\x1e", "\x85", "\u2028", "\u2029"]


def test_no_subject_makes_another_header(box: Mailbox) -> None:
    for ends in BREAKS:
        for more in ("Bcc: x@evil.example", " Bcc: x@evil.example", f"{ends}<p>body", "é" * 90):
            send(box.server("starttls"), subject=f"Tank 3{ends}{more}")
    plain = {"From", "To", "Subject", "Date", "Message-ID", "Auto-Submitted"}
    mime = {"Content-Type", "Content-Transfer-Encoding", "MIME-Version"}
    assert len(box.taken) == 4 * len(BREAKS)
    for at, taken in enumerate(box.taken):
        read = box.message(at)
        assert set(read.keys()) == plain | mime
        assert taken.rcpt_tos == [TO]
        assert read["Subject"].startswith("Tank 3 ")
        assert box.text(at) == "Fill tank 3 today.\n"


@pytest.mark.parametrize(
    "text",
    [
        *(f"vet@practice.example{ends}Bcc: x@evil.example" for ends in BREAKS),
        *(f"ve{ends}t@practice.example" for ends in BREAKS),
        *(f"vet@practice.example{ends}" for ends in BREAKS),
        "",
        "vet",
        "@practice.example",
        "vet@",
        "vet@@practice.example",
        "a@b.example, c@d.example",
        "a@b.example;c@d.example",
        "a@b.example c@d.example",
        "a@b.example,c@d.example",
        "Vet <vet@practice.example>",
        "<vet@practice.example>",
        '"a b"@practice.example',
        "vet(remark)@practice.example",
        ".vet@practice.example",
        "vet.@practice.example",
        "v..et@practice.example",
        "vet@practice..example",
        "vet@-practice.example",
        "vet@practice.example.",
        "vet@[127.0.0.1]",
        "vet@prac_tice.example",
        "vet@größe.example",
        "ve\u202et@practice.example",
        "vet\u200b@practice.example",
        f"{'v' * 65}@practice.example",
        f"vet@{'p' * 64}.example",
        f"vet@{'practice.' * 30}example",
        "group: a@b.example;",
        "vet@practice.example>\r\nDATA",
        "vet@practice.example SIZE=1",
    ],
)
def test_what_is_not_one_mailbox(text: str) -> None:
    with pytest.raises(BadMailbox) as refused:
        checked_mailbox(text)
    assert refused.value.code == "bad-mailbox"


@pytest.mark.parametrize(
    ("text", "mailbox"),
    [
        ("vet@practice.example", "vet@practice.example"),
        (" Vet.On+Duty@Practice.EXAMPLE ", "Vet.On+Duty@practice.example"),
        ("o'neil_1@xn--gre-jma7e.example", "o'neil_1@xn--gre-jma7e.example"),
        ("root@localhost", "root@localhost"),
        ("größe@practice.example", "größe@practice.example"),
        ("पशु.चिकित्सक@practice.example", "पशु.चिकित्सक@practice.example"),
    ],
)
def test_what_is_one(text: str, mailbox: str) -> None:
    assert checked_mailbox(text) == mailbox


def test_a_bad_receiver_is_not_even_connected_for(box: Mailbox) -> None:
    with pytest.raises(BadMailbox):
        send(box.server("starttls"), to="vet@practice.example\r\nRCPT TO:<x@evil.example>")
    assert box.commands == []


def test_letters_beyond_ascii_in_an_address(box: Mailbox) -> None:
    to = "größe@practice.example"
    with pytest.raises(NotSent, match="accents") as failure:
        send(box.server("starttls"), to=to)
    assert failure.value.for_good
    with mailbox("none", enable_SMTPUTF8=True) as other:
        send(other.server("none"), to=to)
        assert other.taken[0].rcpt_tos == [to]
        assert isinstance(other.taken[0].content, bytes)
        assert f"To: {to}\r\n".encode() in other.taken[0].content
        assert "SMTPUTF8" in other.taken[0].mail_options


def test_a_server_without_starttls_gets_neither_password_nor_mail() -> None:
    with mailbox("none") as box:
        with pytest.raises(NotSent, match="STARTTLS") as failure:
            send(box.server("starttls"))
        assert (box.taken, box.signed_in, box.commands) == ([], [], [])
    assert not failure.value.for_good


def test_a_password_is_never_sent_in_clear() -> None:
    with mailbox("none") as box:
        with pytest.raises(NotSent, match="not sent in clear") as failure:
            send(box.server("none", username=USER, password=PASSWORD))
        assert box.signed_in == []
        send(box.server("none"))
        assert len(box.taken) == 1
    assert failure.value.for_good
    assert PASSWORD not in failure.value.detail


@pytest.mark.parametrize("security", ["starttls", "tls"])
def test_a_certificate_of_another_name_is_not_taken(security: Literal["starttls", "tls"]) -> None:
    with mailbox(security, shown="other.example") as box:
        with pytest.raises(NotSent, match="certificate"):
            send(box.server(security))
        assert (box.taken, box.signed_in) == ([], [])


def test_a_certificate_of_nobody_is_not_taken(box: Mailbox) -> None:
    with pytest.raises(NotSent, match="certificate"):
        send(box.server("starttls"), tls=ssl.create_default_context())
    assert (box.taken, box.signed_in) == ([], [])


def test_a_wrong_password(box: Mailbox) -> None:
    with pytest.raises(NotSent, match="user name and password") as failure:
        send(box.server("starttls", password="wr0ng"))
    assert failure.value.for_good
    assert "wr0ng" not in failure.value.detail
    assert box.taken == []


def test_a_password_that_no_server_would_understand_is_not_shown(box: Mailbox) -> None:
    with pytest.raises(NotSent, match="accents") as failure:
        send(box.server("starttls", password="wr0ng-ü"))
    assert "wr0ng" not in str(failure.value)
    assert failure.value.__cause__ is None


@pytest.mark.parametrize("command", ["MAIL", "RCPT", "DATA"])
@pytest.mark.parametrize(
    ("answer", "for_good"),
    [("451 4.3.0 Try later", False), ("452 4.2.2 Full", False), ("550 5.1.1 Nobody", True)],
)
def test_what_the_server_refuses(box: Mailbox, command: str, answer: str, for_good: bool) -> None:
    box.answers[command] = answer
    with pytest.raises(NotSent, match=answer) as failure:
        send(box.server("starttls"))
    assert failure.value.for_good is for_good
    assert box.taken == []


def test_a_server_that_repeats_the_password_is_not_quoted(box: Mailbox) -> None:
    box.answers["RCPT"] = f"550 {PASSWORD} is what you said"
    with pytest.raises(NotSent, match="550") as failure:
        send(box.server("starttls"))
    assert PASSWORD not in failure.value.detail


def test_nobody_is_there() -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
    box = Mailbox()
    box.port = port
    with pytest.raises(NotSent, match="cannot be reached") as failure:
        send(box.server("starttls"))
    assert not failure.value.for_good


def test_a_server_that_drips_is_left_in_time() -> None:
    for security in ("none", "tls"):
        with talking(lambda connected: drip(connected, b"220-hello\r\n")) as port:
            box, began = Mailbox(), time.monotonic()
            box.port = port
            with pytest.raises(NotSent) as failure:
                send(box.server(security), seconds=0.1)  # type: ignore[arg-type]
            assert time.monotonic() - began < 0.8
            assert not failure.value.for_good


def test_a_server_that_says_nothing_is_left_in_time() -> None:
    for security in ("none", "tls"):
        with talking(lambda connected: connected.recv(1000) and connected.recv(1)) as port:
            box = Mailbox()
            box.port = port
            with pytest.raises(NotSent, match="in time"):
                send(box.server(security), seconds=0.1)  # type: ignore[arg-type]


def test_what_follows_starttls_in_clear_is_not_believed() -> None:
    """Answers that somebody between puts behind the 220 of STARTTLS are not the server's."""

    def talk(connected: socket.socket) -> None:
        connected.sendall(b"220 hello\r\n")
        connected.recv(1000)
        connected.sendall(b"250-hello\r\n250 STARTTLS\r\n")
        connected.recv(1000)
        connected.sendall(b"220 go on\r\n250-hello\r\n250 AUTH PLAIN\r\n235 fine\r\n")
        while connected.recv(1000):
            pass

    with talking(talk) as port:
        box = Mailbox()
        box.port = port
        with pytest.raises(NotSent):
            send(box.server("starttls"), seconds=0.2)


def test_no_password_in_a_log_or_repr(box: Mailbox, caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.DEBUG)
    logging.getLogger("mail.log").setLevel(logging.CRITICAL)  # the server's own
    send(box.server("starttls"))
    with pytest.raises(NotSent):
        send(box.server("starttls", password="wr0ng"))
    assert PASSWORD not in caplog.text
    assert "wr0ng" not in caplog.text
    assert PASSWORD not in repr(box.server("starttls"))
