"""E-mail, through the mail server of the station.

Standards, by the Internet Engineering Task Force, from memory: RFC 5321 (SMTP, 2008), RFC 5322
(message format, 2008), RFC 3207 (STARTTLS, 2002), RFC 3834 (automatic messages, 2004), RFC 6531
(SMTPUTF8, 2012).
"""

import re
import socket
import ssl
import unicodedata
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from email.message import EmailMessage
from typing import TYPE_CHECKING, Literal

from service.alerts.addresses import Watch
from service.alerts.letters import Letter, NotSent
from service.kernel.errors import Invalid

if TYPE_CHECKING:
    from smtplib import SMTP, SMTPRecipientsRefused, SMTPResponseException

#: In all, from the look-up of the name to the server's last word.
SECONDS = 15.0

LONGEST_SUBJECT = 200

_LATE = timedelta(hours=1)

# RFC 5321, 4.5.3.1: octets.
_LONGEST_LOCAL, _LONGEST_MAILBOX = 64, 254
#: A dot-atom (RFC 5322, 3.2.3); beyond ASCII see `_has_odd_letters` (RFC 6531).
_ATEXT = r"[A-Za-z0-9!#$%&'*+/=?^_`{|}~\u0080-\U0010ffff-]"
_LOCAL = re.compile(rf"{_ATEXT}+(?:\.{_ATEXT}+)*")
_DOMAIN = re.compile(r"(?!-)[A-Za-z0-9-]{1,63}(?<!-)(?:\.(?!-)[A-Za-z0-9-]{1,63}(?<!-))*")

_LONGEST_REPLY = 200


class BadMailbox(Invalid):
    """Not the address of one mailbox."""

    code = "bad-mailbox"
    title = "This is not an e-mail address"


@dataclass(frozen=True, slots=True, kw_only=True)
class MailServer:
    """Who takes the station's mail; `sender` is the address it is from.

    `security`: "starttls" begins in clear and must turn to TLS, "tls" speaks it from the first
    byte, "none" is for a server on this machine and takes no password.
    """

    host: str
    port: int
    security: Literal["starttls", "tls", "none"]
    username: str | None
    password: str | None = field(repr=False)
    sender: str


def checked_mailbox(text: str) -> str:
    """The address of one mailbox, without a name beside it. Raises BadMailbox."""
    mailbox = text.strip(" ")
    local, at, domain = mailbox.rpartition("@")
    if not at or not local or not domain:
        raise BadMailbox("Write one address alone, such as name@station.example.")
    if not domain.isascii():
        raise BadMailbox("Write the part after the @ in its form with xn--.")
    if (
        not _LOCAL.fullmatch(local)
        or _has_odd_letters(local)
        or not _DOMAIN.fullmatch(domain)
        or len(local.encode()) > _LONGEST_LOCAL
        or len(mailbox.encode()) > _LONGEST_MAILBOX
    ):
        raise BadMailbox(
            "Write one address alone, such as name@station.example: no list, no name beside it, "
            "no spaces, quotes or brackets."
        )
    return f"{local}@{domain.lower()}"


def _has_odd_letters(local: str) -> bool:
    """Whether anything beyond ASCII is neither letter, mark nor digit: it may look like another."""
    return any(
        not letter.isascii() and unicodedata.category(letter)[0] not in "LMN" for letter in local
    )


def message(letter: Letter, *, sender: str, to: str, now: datetime) -> EmailMessage:
    """The letter as e-mail; the same Message-ID each time. Raises BadMailbox.

    One that could not be sent for long says so: what it tells may not be true any more.
    """
    # Imported here, for they bring the whole grammar of addresses with them.
    from email import policy
    from email.headerregistry import Address

    whole = EmailMessage(policy=policy.SMTP)
    from_local, _, from_domain = checked_mailbox(sender).rpartition("@")
    to_local, _, to_domain = checked_mailbox(to).rpartition("@")
    whole["From"] = Address("Rimebook", from_local, from_domain)
    whole["To"] = Address("", to_local, to_domain)
    whole["Subject"] = _one_line(letter.subject)
    whole["Date"] = letter.created_at.astimezone(UTC)
    whole["Message-ID"] = f"<{letter.id}@{from_domain}>"
    whole["Auto-Submitted"] = "auto-generated"
    if letter.urgent:
        whole["Importance"] = "high"
        whole["X-Priority"] = "1"
    if letter.attempt > 1:
        whole["Rimebook-Attempt"] = str(letter.attempt)
    # In seven bits, which every server takes.
    text = letter.text.encode(errors="replace").decode()
    if now - letter.created_at > _LATE:
        written = letter.created_at.astimezone(UTC)
        text = f"Written on {written:%Y-%m-%d at %H:%M} UTC; it could not be sent before.\n\n{text}"
    whole.set_content(text, charset="utf-8", cte="quoted-printable")
    return whole


def _one_line(text: str) -> str:
    """A subject in which nothing ends a line: control characters and separators become spaces."""
    whole = "".join(
        " " if unicodedata.category(letter) in {"Cc", "Cs", "Zl", "Zp"} else letter
        for letter in text
    )
    return " ".join(whole.split())[:LONGEST_SUBJECT]


def send(
    letter: Letter,
    server: MailServer,
    to: str,
    *,
    now: datetime,
    tls: ssl.SSLContext | None = None,
    seconds: float = SECONDS,
) -> None:
    """Hand it to the mail server. Raises NotSent, and BadMailbox for an address that is not one.

    Certificates are checked against the system's authorities, or as `tls` says.
    """
    from smtplib import SMTPException

    whole = message(letter, sender=server.sender, to=to, now=now)
    if server.password and server.security == "none":
        raise NotSent(
            "A password is set for the mail server, but no encryption: it is not sent in clear. "
            "Choose STARTTLS or TLS.",
            for_good=True,
        )
    with Watch(seconds) as watch:
        try:
            context = None if server.security == "none" else tls or ssl.create_default_context()
            client = _connected(server, context, watch)
            try:
                _sign_in(client, server)
                _hand_over(client, whole, checked_mailbox(server.sender), checked_mailbox(to))
            finally:
                _leave(client)
        except (SMTPException, OSError) as error:
            raise _not_sent(error, server, watch) from None


def _connected(server: MailServer, context: ssl.SSLContext | None, watch: Watch) -> "SMTP":
    """A client that has said hello, with TLS if any was asked for."""
    from smtplib import SMTP

    class Watched(SMTP):
        """Its connection is ended in time, also while TLS is being agreed on."""

        def _get_socket(self, host: str, port: int, timeout: float) -> socket.socket:
            connected = socket.create_connection((host, port), timeout)
            watch.over(connected)
            # Later than the watch: smtplib does not tell a late answer from none.
            connected.settimeout(watch.left() + 1)
            if context is None or server.security == "starttls":
                return connected
            return context.wrap_socket(connected, server_hostname=host)

    # The name is given, for looking up one's own may take longer than all the rest.
    domain = server.sender.rpartition("@")[2]
    client = Watched(server.host, server.port, local_hostname=domain, timeout=watch.left())
    try:
        client.ehlo_or_helo_if_needed()
        if server.security == "starttls":
            if not client.has_extn("starttls"):
                raise NotSent(
                    f"The mail server {server.host} does not offer STARTTLS, so nothing was sent: "
                    "the mail would go in clear. Choose TLS, or ask who runs the server."
                )
            client.starttls(context=context)
            client.ehlo_or_helo_if_needed()
    except BaseException:
        client.close()
        raise
    return client


def _sign_in(client: "SMTP", server: MailServer) -> None:
    if not (server.username and server.password):
        return
    # smtplib would fail with an error that holds the password.
    if not (server.username.isascii() and server.password.isascii()):
        raise NotSent(
            "User name and password of the mail server may only have letters without accents.",
            for_good=True,
        )
    client.login(server.username, server.password)


def _hand_over(client: "SMTP", whole: EmailMessage, sender: str, to: str) -> None:
    """The message as bytes: smtplib's own way writes > before lines that begin with From."""
    from email import policy
    from smtplib import SMTPNotSupportedError

    if (sender + to).isascii():
        client.sendmail(sender, [to], whole.as_bytes())
        return
    if not client.has_extn("smtputf8"):
        raise SMTPNotSupportedError
    international = whole.as_bytes(policy=policy.SMTPUTF8)
    client.sendmail(sender, [to], international, ["SMTPUTF8", "BODY=8BITMIME"])


def _leave(client: "SMTP") -> None:
    """Say goodbye; what was taken before stays taken, whatever the server says to it."""
    from smtplib import SMTPException

    with suppress(SMTPException, OSError):
        client.quit()
    client.close()


def _not_sent(error: Exception, server: MailServer, watch: Watch) -> NotSent:
    """What went wrong, in a sentence for a manager."""
    from smtplib import SMTPNotSupportedError, SMTPRecipientsRefused, SMTPResponseException

    host = f"The mail server {server.host}"
    if watch.ended or isinstance(error, TimeoutError):
        return NotSent(f"{host} did not answer in time.")
    if isinstance(error, SMTPResponseException | SMTPRecipientsRefused):
        return _refused(error, server)
    if isinstance(error, SMTPNotSupportedError):
        return NotSent(
            f"{host} lacks what this takes: letters with accents in an address, or signing in.",
            for_good=True,
        )
    if isinstance(error, ssl.SSLError):
        return NotSent(
            f"{host} has no certificate that proves its name, or speaks no TLS that is safe today; "
            "nothing was sent. Is its name as in the certificate?"
        )
    return NotSent(f"{host} cannot be reached on port {server.port}, or broke off.")


def _refused(error: "SMTPResponseException | SMTPRecipientsRefused", server: MailServer) -> NotSent:
    """What the server answered; a code from 500 on is for good (RFC 5321, 4.2.1)."""
    from smtplib import SMTPAuthenticationError, SMTPRecipientsRefused

    if isinstance(error, SMTPRecipientsRefused):
        code, reply = next(iter(error.recipients.values()))
        said = f"refuses this receiver ({_reply(code, reply, server)})."
    elif isinstance(error, SMTPAuthenticationError):
        # Its words are not repeated: it has just been told the password.
        code = error.smtp_code
        said = f"does not take the user name and password (code {code})."
    else:
        code = error.smtp_code
        said = f"refuses the message ({_reply(code, error.smtp_error, server)})."
    return NotSent(f"The mail server {server.host} {said}", for_good=code >= 500)


def _reply(code: int, reply: bytes | str, server: MailServer) -> str:
    """Code and words of the server; none of its words if a secret is among them."""
    text = reply.decode(errors="replace") if isinstance(reply, bytes) else reply
    if server.password and server.password in text:
        return f"code {code}"
    return f"{code} {_one_line(text)[:_LONGEST_REPLY]}".strip()
