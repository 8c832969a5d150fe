"""A claimed message goes out by its channel's way."""

from datetime import datetime

from service.alerts import mail, push, webhooks
from service.alerts.letters import NotSent
from service.alerts.outbox import Claimed
from service.alerts.store import AlertPlan


def send(claimed: Claimed, *, now: datetime, private_allowed: bool) -> None:
    """Send it. Raises NotSent; anything unforeseen is told as that, too, without its words."""
    try:
        _send(claimed, now=now, private_allowed=private_allowed)
    except NotSent:
        raise
    except Exception as error:
        # Its text may hold an address with a key in it.
        raise NotSent(
            f"It failed in a way that was not foreseen ({type(error).__name__})."
        ) from None


def _send(claimed: Claimed, *, now: datetime, private_allowed: bool) -> None:
    channel, letter = claimed.channel, claimed.letter
    if channel.kind == "email":
        mail.send(letter, mail_server(claimed.plan), channel.target, now=now)
    elif channel.kind == "webhook":
        secrets = [one for one in (channel.secret, _still_good(claimed, now)) if one]
        webhooks.send(letter, channel.target, secrets, now=now, private_allowed=private_allowed)
    else:
        push.send(letter, channel.target, private_allowed=private_allowed)


def _still_good(claimed: Claimed, now: datetime) -> str | None:
    until = claimed.channel.secret_before_until
    return claimed.channel.secret_before if until and now < until else None


def mail_server(plan: AlertPlan) -> mail.MailServer:
    """The station's mail server. Raises NotSent when none is set."""
    if plan.mail_host is None or plan.mail_sender is None:
        raise NotSent("No mail server is set: enter it in the settings of alerts.")
    return mail.MailServer(
        host=plan.mail_host,
        port=plan.mail_port,
        security=plan.mail_security,
        username=plan.mail_username,
        password=plan.mail_password,
        sender=plan.mail_sender,
    )
