"""Check a stock-take's report, and the ledger behind it, on any machine with Python 3.8 or newer.

    python verify_report.py report.json [ledger-extract.json | ledger-extract.zip]

It needs this file alone. The extract holds the ledger's entries with their lines, one JSON object
after the other (JSON Lines, or one list), in a zip or not, from entry 1 on, or behind a line that
says what they follow: {"starts_after": {"seq": 41, "hash": "..."}}. Ends with 0 only when all
agrees that was looked at; what was not is said. `report_form.py` describes the report.
"""

from __future__ import annotations

import hashlib
import io
import json
import re
import sys
import zipfile
from collections import Counter
from pathlib import Path
from typing import IO, Any, Iterator, NoReturn  # noqa: UP035 (Python 3.8)

FORM = "rimebook-stock-take-1"

# Hashed as service/ledger/rules.py and service/kernel/chain.py do it; a test keeps them alike.
GENESIS = "0" * 64
ADJUST, MOST_TOLD = "adjust", 50  # the kind of entry that adjusts stock; findings told
CHUNK, LONGEST = 1 << 20, 1 << 26  # characters: read at a time; the longest entry


def link(previous: str, content: str) -> str:
    """The hash of a record that follows `previous`: SHA-256 (FIPS 180-4, NIST, 2015), in hex."""
    return hashlib.sha256(f"{previous}\n{content}".encode()).hexdigest()


def entry_text(entry: dict[str, Any], seq: int) -> str:
    """An entry as it is hashed: eleven fields between tabs, then a line for each straw."""
    head = (
        *(str(seq), _hex(entry["id"]), entry["kind"], _hex(entry["by_id"]), entry["by_name"]),
        *(entry["occurred_at"], entry["recorded_at"], entry["reason"] or ""),
        *(_hex(entry["withdrawal_id"]), _hex(entry["batch_id"]), entry["facts"]),
    )
    return "\n".join(["\t".join(map(_field, head)), *map(line_text, entry["lines"])])


def line_text(line: dict[str, Any]) -> str:
    """A straw's line as it is hashed: seven fields between tabs."""
    fields = (
        *(line["straw_code"], line["from_state"], _hex(line["from_goblet_id"])),
        *(line["to_state"], _hex(line["to_goblet_id"]), _hex(line["withdrawal_id"])),
        str(int(line["provisional"])),
    )
    return "\t".join(map(_field, fields))


def _field(text: str) -> str:
    if re.search("[\t\n]", text):  # two different entries could have one text
        raise ValueError("a tab or a line break in a field")
    return text


def _hex(id: str | None) -> str:
    return (id or "").replace("-", "").lower()


class Unreadable(Exception):
    """A file that is not what it should be; the words are for a person."""


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """A JSON object, in which no name stands twice: two readers could read two things."""
    found = dict(pairs)
    if len(found) != len(pairs):
        raise Unreadable("A name stands twice in one object.")
    return found


def _not_whole(number: str) -> NoReturn:
    raise Unreadable(f"{number[:40]} is not a whole number.")


STRICT = json.JSONDecoder(
    object_pairs_hook=_once, parse_float=_not_whole, parse_constant=_not_whole
)


def read_report(path: Path) -> dict[str, Any]:
    """The report. Raises Unreadable, OSError, ValueError, RecursionError."""
    report = STRICT.decode(path.read_bytes().decode("utf-8-sig"))
    if not isinstance(report, dict) or report.get("form") != FORM:
        raise Unreadable(f"{path.name} is not a report of the form {FORM}.")
    return report


def _opened(path: Path) -> IO[str]:
    if not zipfile.is_zipfile(path):
        return path.open(encoding="utf-8-sig")
    archive = zipfile.ZipFile(path)
    names = [name for name in archive.namelist() if name.endswith((".jsonl", "ledger.json"))]
    if len(names or archive.namelist()) != 1:
        raise Unreadable(f"{path.name} holds more files than one, or none.")
    return io.TextIOWrapper(archive.open((names or archive.namelist())[0]), encoding="utf-8-sig")


def objects(path: Path) -> Iterator[dict[str, Any]]:
    """The objects of an extract, one at a time. Raises Unreadable, and what files raise."""
    between = re.compile(r"[\s,\[\]]*")
    buffer, place, ended, last = "", 0, False, 0
    with _opened(path) as file:
        while not ended or place < len(buffer):
            place = between.match(buffer, place).end()  # type: ignore[union-attr]
            try:
                found, place = STRICT.raw_decode(buffer, place)
            except ValueError as error:
                rest = buffer[place:]
                if rest and (ended or len(rest) > LONGEST):
                    raise Unreadable(f"The extract breaks off after entry {last}.") from error
                more = file.read(max(CHUNK, len(rest)))
                buffer, place, ended = rest + more, 0, not more
                continue
            if not isinstance(found, dict):
                raise Unreadable(f"What comes after entry {last} is no entry.")
            last = found.get("seq", last)
            yield found


class Chain:
    """Entries one after the other: `first` is what is wrong with the first bad one, in words."""

    def __init__(self, seq: int, head: str) -> None:
        self.start, self.seq, self.head, self.before = seq, seq, head, head
        self.recorded_at, self.first, self.breaks, self.gap = "", "", 0, range(0)

    def take(self, entry: dict[str, Any]) -> bool:
        """Look at the next entry; whether it is one that goes on."""
        seq, kept = entry["seq"], entry["hash"]
        if seq <= self.seq:
            self._behind(seq)
            return False
        if seq > self.seq + 1:
            self._break(f"Entry {self.seq + 1} is missing: entry {seq} stands in its place.")
            self.gap = self.gap or range(self.seq + 1, seq)
        elif link(self.head, entry_text(entry, seq)) != kept:
            self._broken(entry)
        elif entry["recorded_at"] < self.recorded_at:
            self._break(f"Entry {seq} was recorded before the one in front of it.")
        self.before, self.head, self.seq = self.head, kept, seq
        self.recorded_at = entry["recorded_at"]
        return True

    def _broken(self, entry: dict[str, Any]) -> None:
        seq = entry["seq"]
        or_before = f"; or {seq - 1} was, and got a fresh hash" if seq > self.start + 1 else ""
        if or_before and link(self.before, entry_text(entry, seq - 1)) == entry["hash"]:
            self._break(f"Entry {seq - 1} was inserted: {seq} had its number before.")
        else:
            self._break(f"Entry {seq} was changed{or_before}.")

    def _behind(self, seq: int) -> None:
        words = f"Entry {seq} stands there twice: one of the two was inserted."
        if seq in self.gap:
            words = f"Entry {seq} is out of order: it stands behind entry {self.seq}."
            self.first = words if self.breaks == 1 else self.first  # it had seemed to be missing
        self._break(words)

    def _break(self, words: str) -> None:
        self.breaks += 1
        self.first = self.first or words


class Straws:
    """Each straw's way, and what stood in the report's goblets at their cut-offs."""

    def __init__(self, report: dict[str, Any]) -> None:
        self.goblets = {_hex(one["goblet_id"]): one for one in report["goblets"]}
        self.upto = report["compared"]["seq"]
        cut_offs = [one["cut_off_seq"] for one in report["goblets"]] or [0]
        self.settled, self.last = min(cut_offs), max(self.upto, *cut_offs)
        self.batches: dict[str, str] = {}
        self.places: dict[str, tuple[str, str]] = {}
        self.steps: dict[str, list[tuple[int, str, str]]] = {}
        self.astray: list[str] = []

    def take(self, entry: dict[str, Any]) -> None:
        """Follow the lines of the next entry."""
        seq = entry["seq"]
        for line in entry["lines"]:
            code, came = line["straw_code"], (line["from_state"], _hex(line["from_goblet_id"]))
            if self.places.get(code, ("made", "")) != came:
                self.astray.append(f"Entry {seq} takes straw {code} from where it was not.")
            if came[0] == "made":
                self.batches[code] = sys.intern(_hex(entry["batch_id"]))
            goblet = sys.intern(_hex(line["to_goblet_id"]))
            self.places[code] = (sys.intern(line["to_state"]), goblet)
            if seq <= self.settled:  # for every goblet only the last of these counts
                self.steps[code] = [(seq, "", goblet)]
            elif seq <= self.last:
                self.steps.setdefault(code, []).append((seq, entry["occurred_at"], goblet))

    def expected(self) -> dict[str, Counter[str]]:
        """By goblet and batch: the straws that were there at the goblet's cut-off."""
        found: dict[str, Counter[str]] = {goblet: Counter() for goblet in self.goblets}
        for code, steps in self.steps.items():
            for goblet in {to for _, _, to in steps} & found.keys():
                of_goblet = self.goblets[goblet]
                seq, at = of_goblet["cut_off_seq"], of_goblet["cut_off_at"] or ""
                known = [s for s in steps if s[0] <= seq or (s[0] <= self.upto and s[1] <= at)]
                if known and known[-1][2] == goblet:
                    found[goblet][self.batches.get(code, "")] += 1
        return found


def digest(report: dict[str, Any]) -> str:
    """The report's own hash: of everything but `sha256`, as canonical JSON."""
    rest = {name: value for name, value in report.items() if name != "sha256"}
    text = json.dumps(rest, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def of_report(report: dict[str, Any]) -> Iterator[str]:
    """What does not agree in the report alone."""
    if digest(report) != report["sha256"]:
        yield "The report was changed: its SHA-256 is not the one that stands in it."
    once = [one["goblet_id"] for one in report["goblets"]]
    once += [one[name] for one in _booked(report) for name in ("id", "entry_seq")]
    if len(once) > len(set(once)):
        yield "A goblet, an adjustment or its entry is in the report twice."
    rows: Counter[tuple[str, str]] = Counter()
    for one in report["differences"]:
        rows[one["goblet_id"], one["batch_code"]] += one["difference"]
        if one["difference"] != one["counted"] - one["expected"]:
            yield f"A difference in {one['address']} is not counted less expected."
    for goblet in report["goblets"]:
        for batch in sorted({*goblet["expected"], *goblet["counted"]}):
            off = goblet["counted"].get(batch, 0) - goblet["expected"].get(batch, 0)
            said = rows[goblet["goblet_id"], batch]
            if off != said:
                yield f"{goblet['address']}, {batch}: off by {off}, the differences say {said}."
    yield from _ends(report)


def _ends(report: dict[str, Any]) -> Iterator[str]:
    """What was adjusted as it should not be; overs and unders are never set off."""
    booked = {one["id"]: one for one in _booked(report)}
    left: Counter[tuple[str, str, bool]] = Counter()
    named = set()
    for one in report["differences"]:
        if one["end"] == "adjusted":
            place = one["goblet_id"], one["batch_code"]
            left[(*place, one["difference"] > 0)] += one["difference"]
            named |= {(id, *place) for id in one["adjustment_ids"] if id in booked}
    for id, goblet_id, batch in named:
        straws = _effects(booked[id])[goblet_id] if booked[id]["batch_code"] == batch else 0
        left[goblet_id, batch, straws > 0] -= straws
    for (goblet_id, batch, _), straws in left.items():
        if straws:
            yield f"Goblet {goblet_id}, {batch}: adjusted, it says, but {straws:+d} are left."
    rows = [(row["goblet_id"], [row, *row["counts_before"]]) for row in report["goblets"]]
    counters = {(place, one["counted_by"]["id"]) for place, counts in rows for one in counts}
    for id, one in booked.items():
        by = one["approved_by"]["id"]
        if by == one["proposed_by"]["id"] or counters & {(place, by) for place in _effects(one)}:
            yield f"Adjustment {id} was approved by whoever proposed it or counted that goblet."


def _booked(report: dict[str, Any]) -> list[dict[str, Any]]:
    return [one for one in report["adjustments"] if one["entry_seq"] is not None]


def _effects(adjustment: dict[str, Any]) -> Counter[str]:
    """By goblet, how many straws an adjustment brings, or takes (below 0)."""
    effects = Counter({adjustment["goblet_id"]: adjustment["difference"]})
    if adjustment["other_goblet_id"]:
        effects[adjustment["other_goblet_id"]] -= adjustment["difference"]
    return effects


class Ledger:
    """The extract read beside a report; what does not agree is added to `problems`."""

    def __init__(self, report: dict[str, Any], problems: list[str]) -> None:
        self.report, self.chain, self.straws = report, Chain(0, GENESIS), Straws(report)
        self.problems = problems
        self.points = [(name, report[name]) for name in ("freeze", "compared", "closing")]
        self.batches = {one["code"]: _hex(one["batch_id"]) for one in report["batches"]}
        self.adjustments = {one["entry_seq"]: one for one in _booked(report)}
        self.recorded: list[Any] = []

    def read(self, extract: Iterator[dict[str, Any]]) -> None:
        """Follow the whole extract."""
        for number, entry in enumerate(extract):
            start = entry.get("starts_after") if number == 0 else None
            if start:
                self.chain = Chain(start["seq"], start["hash"])
            if number == 0:
                self._at_a_point(self.chain.seq, self.chain.head)
            if not start and self.chain.take(entry):
                self._at_a_point(entry["seq"], entry["hash"])
                self._facts(entry)
                if self.chain.start == 0:
                    self.straws.take(entry)
        self._ended()

    def _at_a_point(self, seq: int, head: str) -> None:
        for name, point in self.points:
            if point["seq"] == seq and point["head"] != head:
                self.problems.append(f"Entry {seq} has not the hash of the report's {name} point.")

    def _facts(self, entry: dict[str, Any]) -> None:
        """What an entry says of this stock-take."""
        seq, one = entry["seq"], self.adjustments.pop(entry["seq"], None)
        facts = json.loads(entry["facts"])
        if one is not None:
            wrong = [what for what, same in self._same(one, entry, facts) if not same]
            said = f"Adjustment {one['id']} and entry {seq} have not the same "
            self.problems += [said + what + "." for what in wrong]
        elif _hex(facts.get("stock_take_id")) == _hex(self.report["stock_take_id"]):
            if seq > self.report["closing"]["seq"]:
                self.recorded.append(facts.get("report_sha256"))
            elif entry["kind"] == ADJUST:
                self.problems.append(f"Entry {seq} adjusts stock; the report is silent about it.")

    def _same(
        self, one: dict[str, Any], entry: dict[str, Any], facts: dict[str, Any]
    ) -> Iterator[tuple[str, bool]]:
        change = Counter({_hex(goblet): -straws for goblet, straws in _effects(one).items()})
        for line in entry["lines"]:
            change[_hex(line["to_goblet_id"])] += 1
            change[_hex(line["from_goblet_id"])] -= 1
        del change[""]  # no goblet
        yield "kind", entry["kind"] == ADJUST
        yield "id", _hex(facts.get("adjustment_id")) == _hex(one["id"])
        yield "reason", facts.get("reason_code") == one["reason_code"]
        yield "person", _hex(entry["by_id"]) == _hex(one["approved_by"]["id"])
        yield "batch", _hex(entry["batch_id"]) == self.batches.get(one["batch_code"])
        yield "straws", {line["straw_code"] for line in entry["lines"]} == {*one["straw_codes"]}
        yield "numbers", not any(change.values())

    def _ended(self) -> None:
        chain, report = self.chain, self.report
        if chain.first:
            self.problems.insert(0, f"{chain.first} (Breaks in all: {chain.breaks}.)")
        for name, point in self.points:
            if not chain.start <= point["seq"] <= chain.seq:
                reach = f"The extract reaches from entry {chain.start + 1} to {chain.seq}"
                self.problems.append(f"{reach}; the report's {name} point is {point['seq']}.")
        for seq, one in self.adjustments.items():
            self.problems.append(f"Adjustment {one['id']} is said to be entry {seq}: not there.")
        if report["sha256"] not in self.recorded:
            draft = "This is a draft: it was not closed, so no entry names its SHA-256."
            closed = "No entry after the closing point names this report's SHA-256."
            self.problems.append(closed if report["closed_by"]["id"] else draft)
        if chain.start == 0 and not chain.first:
            self.problems += [*self.straws.astray, *self._unexpected()]

    def _unexpected(self) -> Iterator[str]:
        codes = {id: code for code, id in self.batches.items()}
        for id, found in self.straws.expected().items():
            goblet = self.straws.goblets[id]
            said, booked = goblet["expected"], {codes.get(id, id): n for id, n in found.items()}
            for batch in sorted({*booked, *said}):
                here, there = said.get(batch, 0), booked.get(batch, 0)
                if here != there:
                    yield f"{goblet['address']}, {batch}: report {here}, ledger {there}."


def main(arguments: list[str]) -> int:
    """Tell what was found; 0 when everything agrees, 1 when not, 2 when asked wrongly."""
    tell, ledger = sys.stdout.write, None
    problems: list[str] = []
    if len(arguments) not in (1, 2):
        tell("Use: python verify_report.py report.json [ledger-extract.json | .zip]\n")
        return 2
    try:
        report = read_report(Path(arguments[0]))
        problems += of_report(report)
        if arguments[1:]:
            ledger = Ledger(report, problems)
            ledger.read(objects(Path(arguments[1])))
    except (Unreadable, OSError, zipfile.BadZipFile) as error:
        problems.append(str(error))
    except (KeyError, TypeError, ValueError, AttributeError, RecursionError) as error:
        after = f" after entry {ledger.chain.seq}" if ledger else ""
        problems.append(f"Something{after} is missing, or not what it should be: {error!r}")
    told = [*problems[:MOST_TOLD], "More besides."] if len(problems) > MOST_TOLD else problems
    tell("".join(f"- {words}\n" for words in told))
    if ledger is None:
        tell("Not looked at: the ledger, of which no extract was given.\n")
    elif ledger.chain.start or ledger.chain.first:
        tell("Not looked at: what the book expects; that needs a whole ledger from entry 1.\n")
    if problems:
        tell("It does NOT agree.\n")
        return 1
    tell(f"The report agrees with itself. SHA-256 {report['sha256']}\n")
    if ledger:
        tell(f"It agrees with the ledger to entry {ledger.chain.seq}, {ledger.chain.head}\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
