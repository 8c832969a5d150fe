"""Phone push, SMS and chat, through Apprise (github.com/caronc/apprise, BSD 2-Clause).

It runs in a process of its own for each message (see `push_process`): that is ended when it takes
too long, and what it logs, keys and all, goes nowhere.
"""

import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

from service.alerts.addresses import AddressRefused, Resolve, pinned, system_resolve
from service.alerts.letters import Letter, NotSent
from service.alerts.push_services import LEFT_OUT, SERVICES
from service.kernel.errors import Invalid

#: In all, with starting the process, which takes half a second.
SECONDS = 20.0

LONGEST_URL = 2_000

#: Nothing of what a list of addresses is taken apart at, nor of what ends a line.
_URL = re.compile(r"([A-Za-z0-9]{1,32})://[!-~]+")

#: What Python itself may need: its libraries, and on Windows its sockets.
_TO_START = ("LD_LIBRARY_PATH", "DYLD_LIBRARY_PATH", "SYSTEMROOT")

#: Answers to a wrong key or a receiver that does not exist: the next try gets the same.
_FOR_GOOD = {400, 401, 403, 404, 410}


class PushRefused(Invalid):
    """An address that no message is pushed to; the sentence holds nothing of it but its service."""

    code = "push-refused"
    title = "This address cannot be pushed to"


def masked(url: str) -> str:
    """The name of the service, for showing: all the rest of such an address may be a key."""
    match = _URL.fullmatch(url)
    return SERVICES.get(match[1].lower(), "Push") if match else "Push"


def checked(
    url: str,
    *,
    private_allowed: bool,
    resolve: Resolve = system_resolve,
    seconds: float = SECONDS,
) -> str:
    """The address, without spaces around it. Nothing is sent. Raises PushRefused.

    What a name points to is looked at again with each message.
    """
    url = url.strip(" ")
    match = _URL.fullmatch(url) if len(url) <= LONGEST_URL else None
    if match is None:
        raise PushRefused("This is not one address of Apprise, such as ntfys://name/topic.")
    scheme = match[1].lower()
    if scheme in LEFT_OUT:
        raise PushRefused(f"{scheme}:// is not sent to. {LEFT_OUT[scheme]}")
    if scheme not in SERVICES:
        raise PushRefused(f"{scheme}:// is not known here. See the list of Apprise's services.")
    answered = _answered(
        {"url": url, "title": "Rimebook", "text": "Rimebook", "urgent": False},
        private_allowed=private_allowed,
        send=False,
        seconds=seconds,
    )
    if answered is None or not answered["readable"]:
        raise PushRefused(
            f"Apprise makes nothing of this address: see how one of {SERVICES[scheme]} is written."
        )
    if answered["origin"]:
        try:
            pinned(answered["origin"], private_allowed=private_allowed, resolve=resolve)
        except AddressRefused as refused:
            raise PushRefused(_for_apprise(refused.detail, answered)) from None
    return url


def send(letter: Letter, url: str, *, private_allowed: bool, seconds: float = SECONDS) -> None:
    """Send it; an urgent one as a warning. Raises NotSent."""
    match = _URL.fullmatch(url)
    service = SERVICES.get(match[1].lower()) if match else None
    if service is None:
        raise NotSent("This push address is not sent to any more: enter another.", for_good=True)
    answered = _answered(
        {"url": url, "title": letter.subject, "text": letter.text, "urgent": letter.urgent},
        private_allowed=private_allowed,
        send=True,
        seconds=seconds,
    )
    if answered is None:
        raise NotSent(f"{service} did not answer in time, or Apprise broke off.")
    if answered["sent"]:
        return
    if answered["refusal"]:
        raise NotSent(_for_apprise(answered["refusal"], answered))
    if not answered["readable"]:
        raise NotSent(f"Apprise makes nothing of this address of {service}.", for_good=True)
    status = answered["status"]
    if status is None:
        raise NotSent(f"{service} cannot be reached, or its certificate does not prove its name.")
    if status in _FOR_GOOD:
        raise NotSent(
            f"{service} refuses the message (status {status}): are key and receiver right?",
            for_good=True,
        )
    raise NotSent(f"{service} did not take the message (status {status}).")


def _for_apprise(detail: str, answered: dict[str, Any]) -> str:
    """The sentence, for somebody who does not write https but a scheme of Apprise."""
    if not answered["origin"].startswith("http:"):
        return detail
    return f"{detail} With Apprise that is the scheme with an s at its end, such as ntfys://."


def _answered(
    message: dict[str, Any], *, private_allowed: bool, send: bool, seconds: float
) -> dict[str, Any] | None:
    """What the other process says; None when it said nothing in time."""
    order = {**message, "private_allowed": private_allowed, "send": send}
    # Nothing of this process's surroundings: no proxies, no secrets, no home with keys in it.
    surroundings = {"PYTHONPATH": str(Path(__file__).parents[2])}
    surroundings |= {name: os.environ[name] for name in _TO_START if name in os.environ}
    command = [sys.executable, "-B", "-P", "-m", "service.alerts.push_process"]
    try:
        ended = subprocess.run(  # noqa: S603 - nothing in the command comes from outside
            command,
            input=json.dumps(order).encode(),
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            timeout=seconds,
            env=surroundings,
            check=True,
        )
        answered: dict[str, Any] = json.loads(ended.stdout)
    except (subprocess.SubprocessError, OSError, ValueError):
        return None
    return answered
