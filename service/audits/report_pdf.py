"""A stock-take's report on paper, for signing: what `report_form` says, in words and tables.

The hash of the report stands on every sheet, so that sheets of two reports cannot be mixed. Moments
are told in the station's time zone.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, cast
from zoneinfo import ZoneInfo

from labels.shapes import Rule
from labels.typefaces import CODE_LIGHT, STRONG, TEXT
from service.audits.report_form import DifferenceFound, GobletCounted, Point, Report, canonical
from service.audits.report_paper import (
    BODY_MM,
    LEFT_MM,
    SMALL_MM,
    WIDTH_MM,
    Cell,
    Column,
    Paper,
    drawable,
    words,
)
from service.audits.rules import DifferenceClass, ReasonCode
from service.kernel import clock
from service.kernel.codes import grouped

CLASS_WORDS: dict[DifferenceClass, str] = {
    "missing": "missing",
    "surplus": "too many",
    "wrong-place": "in another place",
    "ambiguous": "more than one explanation",
    "unknown": "cannot be named",
    "disturbed": "disturbed while it was counted",
}
REASON_WORDS: dict[ReasonCode, str] = {
    "data-entry-error": "data entry error",
    "unrecorded-use": "use that was not recorded",
    "label-lost": "label lost",
    "destroyed": "destroyed",
    "found-elsewhere": "found elsewhere",
    "supplier-short": "supplier delivered fewer",
    "unexplained": "unexplained",
}
#: Who signs by hand, and what that means.
BY_HAND = (
    ("For the station", "The goblets were counted as this report says, and nothing was left out."),
    ("Reviewed", "I have looked at the counts, the differences, and what was done about each."),
    (
        "Agreed, or not agreed",
        "In my judgement the book, as adjusted, agrees / does not agree with what was counted "
        "(strike out what does not apply).",
    ),
)

#: What is called how stands in a column of that width.
_LABEL_MM = 36.0

_COUNTS = (
    Column("Goblet", 27),
    Column("Batch", 25, typeface=CODE_LIGHT),
    Column("Stallion", 33),
    Column("Book", 13, "right"),
    Column("Counted", 17, "right"),
    Column("Differs", 16, "right"),
    Column("Counted by, when and how", 39),
)


def pdf_of(report: Mapping[str, Any] | Report) -> bytes:
    """The report as a PDF on A4. Draws whatever the report says; letters we lack become “?”."""
    return _Printed(cast(Report, report)).pdf()


def hash_groups(digest: str) -> str:
    """A hash as people compare it: in groups of four."""
    return " ".join(digest[start : start + 4] for start in range(0, len(digest), 4))


def signed_number(straws: int) -> str:
    """A difference with its sign, a real minus."""
    return f"{straws:+d}".replace("-", "−") if straws else "0"


def _many(number: int, what: str) -> str:
    return f"{number:,} {what}" if number == 1 else f"{number:,} {what}s"


def _code(code: str) -> str:
    """A code in groups that are never torn."""
    return grouped(code).replace(" ", "\u00a0")


def _lacking(report: Report) -> bool:
    """Whether it has letters that no typeface of ours has."""
    letters = "".join(sorted(set(canonical(report).decode())))
    return drawable(letters, TEXT) != letters.strip()


class _Printed:
    """One report on its way to paper."""

    def __init__(self, report: Report) -> None:
        self.report, self.paper = report, Paper()
        self.zone = ZoneInfo(report["station"]["time_zone"])
        self.stallions = {one["code"]: one["stallion"] for one in report["batches"]}
        self.addresses = {one["goblet_id"]: one["address"] for one in report["goblets"]}
        #: Nobody closed a draft.
        self.draft = not report["closed_by"]["id"]

    def pdf(self) -> bytes:
        """Section after section."""
        self._summary()
        self._scope()
        self._people()
        self._points()
        self._counts()
        self._differences()
        self._adjustments()
        self._claims()
        self._signatures()
        name = f"Stock-take of {self._day(self.report['opened_at'])}"
        draft = "Draft, not closed. " if self.draft else ""
        station = self.report["station"]["name"]
        return self.paper.finished(
            f"{draft}{station}. {name}",
            f"SHA-256 {hash_groups(self.report['sha256'])}",
            title=f"{station}, {name}",
        )

    def _at(self, moment: str) -> str:
        at = clock.from_text(moment).astimezone(self.zone)
        return f"{at.day} {at:%b %Y, %H:%M}"

    def _day(self, moment: str) -> str:
        at = clock.from_text(moment).astimezone(self.zone)
        return f"{at.day} {at:%B %Y}"

    def _summary(self) -> None:
        report, paper = self.report, self.paper
        paper.title("Report of a stock-take" + (" (draft)" if self.draft else ""))
        paper.text(report["station"]["name"], STRONG, 2.7)
        paper.space(2.0)
        ends = Counter(one["end"] for one in report["differences"])
        wrong = len({one["goblet_id"] for one in report["differences"]})
        found = f"{_many(len(report['differences']), 'difference')} in {_many(wrong, 'goblet')}"
        told = ", ".join(f"{ends[end]} {end}" for end in ("adjusted", "explained", "open"))
        paper.text(
            f"{len(report['goblets']):,} of {_many(report['scope']['goblets'], 'goblet')} counted; "
            + (f"{found}: {told}." if report["differences"] else "no differences.")
        )
        for words_ in report["says"]:
            paper.text(words_, STRONG)

    def _scope(self) -> None:
        report = self.report
        self.paper.heading("Scope and method")
        self.paper.text(report["scope"]["words"])
        self.paper.text(report["method"])
        seen = sum(one["not_blind"] for one in report["goblets"])
        blind = "Counted blind: nobody was shown what the book expects."
        if report["blind"] and seen:
            blind += f" Of {_many(seen, 'goblet')} the counter had read it: marked “not blind”."
        self.paper.text(blind if report["blind"] else "Not counted blind.")
        if sample := report["sample"]:
            self.paper.space(1.5)
            self.paper.text(
                f"A sample, sized to find at least one wrong goblet with "
                f"{sample['confidence_percent']} % confidence if {sample['detect_percent']} % of "
                f"the goblets or more are wrong. {sample['algorithm']}"
            )
            drawn = [
                f"{one['drawn']} of {one['goblets']} in {one['tank']}" for one in sample["tanks"]
            ]
            self.paper.facts([("Drawn", "; ".join(drawn)), ("Seed", sample["seed"])], _LABEL_MM)

    def _people(self) -> None:
        report = self.report
        counters: Counter[str] = Counter(one["counted_by"]["name"] for one in report["goblets"])
        told = [f"{name} ({number})" for name, number in sorted(counters.items())]
        closed = "not closed yet"
        if not self.draft:
            closed = f"{report['closed_by']['name']}, {self._at(report['closed_at'])}"
        rows = [
            ("Opened", f"{report['opened_by']['name']}, {self._at(report['opened_at'])}"),
            ("Counted (goblets)", ", ".join(told) or "nobody"),
            ("Compared", self._at(report["compared"]["at"])),
            ("Closed", closed),
            *([("Note", report["closing_note"])] if report["closing_note"] else []),
            ("Times", f"in the time zone {report['station']['time_zone']}"),
        ]
        self.paper.heading("People and times")
        self.paper.facts(rows, _LABEL_MM)

    def _points(self) -> None:
        report = self.report
        self.paper.heading("Freeze point and heads")
        self.paper.text(
            "Each entry of the book bears a hash of itself and of all that went before. A book "
            "that was rewritten no longer has these hashes at these entries."
        )
        self.paper.space(1.0)
        for name, told in (
            ("freeze", "Freeze point"),
            ("compared", "Compared"),
            ("closing", "Closing"),
        ):
            self._point(told, cast(Point, report[name]))  # type: ignore[literal-required]
        self.paper.facts([("Stock-take", report["stock_take_id"])], _LABEL_MM)

    def _point(self, told: str, point: Point) -> None:
        entry = f"entry {point['seq']}, {self._at(point['at'])}"
        self.paper.facts([(told, entry)], _LABEL_MM)
        head = hash_groups(point["head"])
        self.paper.text(head, CODE_LIGHT, SMALL_MM, indent_mm=_LABEL_MM)

    def _counts(self) -> None:
        self.paper.heading("Counts, goblet by goblet")
        if not self.report["goblets"]:
            self.paper.text("No goblet was counted.")
            return
        self.paper.text("By number, unless it is said that the straws were scanned.")
        self.paper.space(1.5)
        rows = [row for one in self.report["goblets"] for row in self._goblet(one)]
        self.paper.table(_COUNTS, rows)

    def _goblet(self, one: GobletCounted) -> Iterator[Sequence[str | Cell]]:
        """A row for each batch that was expected or counted; one for an empty goblet."""
        where: str | Cell = Cell(one["address"], STRONG)
        how = self._how(one)
        for code in sorted({*one["expected"], *one["counted"]}) or [""]:
            expected, counted = one["expected"].get(code, 0), one["counted"].get(code, 0)
            off = counted - expected
            differs = Cell(signed_number(off), STRONG if off else None)
            stallion = self.stallions.get(code, "") if code else "empty"
            yield (where, _code(code), stallion, str(expected), str(counted), differs, how)
            where, how = "", ""
        if one["unreadable"] or one["foreign"]:
            told = f"{one['unreadable']} unreadable" if one["unreadable"] else ""
            marks = ", ".join(one["foreign"])
            told += (", " if told and marks else "") + (f"foreign: {marks}" if marks else "")
            yield ("", "", told, "", "", "", "")

    def _how(self, one: GobletCounted) -> str:
        at = clock.from_text(one["counted_at"]).astimezone(self.zone)
        said = [f"{one['counted_by']['name']}, {at.day} {at:%b %H:%M}"]
        said += ["scanned"] * (one["method"] == "by scanning")
        if one["round"] > 1:
            said.append(f"count {one['round']}")
        said += ["not blind"] * one["not_blind"] + ["disturbed"] * one["disturbed"]
        for before in one["counts_before"]:
            straws = sum(before["counted"].values())
            said.append(f"before by {before['counted_by']['name']}: {_many(straws, 'straw')}")
        return "; ".join(said)

    def _differences(self) -> None:
        self.paper.heading("Differences, and what became of each")
        if not self.report["differences"]:
            self.paper.text("None: in every goblet the count and the book agree.")
        for one in self.report["differences"]:
            self._difference(one)

    def _difference(self, one: DifferenceFound) -> None:
        paper, code = self.paper, one["batch_code"]
        batch = f"batch {_code(code)}, {self.stallions.get(code, '')}" if code else "no batch"
        paper.keep(18.0)
        paper.text(f"{one['address']}, {batch}", STRONG)
        told = f"{CLASS_WORDS[one['class']]}.".capitalize()
        if code or one["difference"]:
            told = f"{signed_number(one['difference'])}: {told.lower()} "
            told += f"The book has {one['expected']}, counted were {one['counted']}."
        paper.text(told, indent_mm=4)
        for label, listed in (
            ("Codes", list(map(_code, one["codes"]))),
            ("Foreign marks", one["foreign"]),
            ("It may be", one["stories"]),
            ("Note", [one["note"]] if one["note"] else []),
        ):
            if listed:
                between = " " if label == "It may be" else ", "
                paper.text(f"{label}: {between.join(listed)}", height_mm=SMALL_MM, indent_mm=4)
        paper.text(f"{one['end'].capitalize()}. {one['end_words']}".rstrip(), indent_mm=4)
        paper.space(2.2)

    def _adjustments(self) -> None:
        self.paper.heading("Adjustments of the book")
        if not self.report["adjustments"]:
            self.paper.text("None.")
            return
        columns = (
            *(Column("Entry", 15, "right"), Column("Goblet", 27)),
            *(Column("Batch", 25, typeface=CODE_LIGHT), Column("Straws", 15, "right")),
            *(Column("Why", 44), Column("Proposed, approved", 44)),
        )
        self.paper.table(columns, [self._adjustment(one) for one in self.report["adjustments"]])

    def _adjustment(self, one: Any) -> Sequence[str | Cell]:
        by = f"{one['proposed_by']['name']}, {self._at(one['proposed_at'])}; "
        approver = one["approved_by"]
        by += f"{approver['name']}, {self._at(one['approved_at'])}" if approver else "not approved"
        why = f"{REASON_WORDS[cast(ReasonCode, one['reason_code'])]}: {one['note']}"
        why += f" ({', '.join(map(_code, one['straw_codes']))})" if one["straw_codes"] else ""
        place = one["address"]
        if other := one["other_goblet_id"]:
            place += f", {'to' if one['difference'] < 0 else 'from'} "
            place += self.addresses.get(other, other)
        entry = "–" if one["entry_seq"] is None else str(one["entry_seq"])
        return entry, place, _code(one["batch_code"]), signed_number(one["difference"]), why, by

    def _claims(self) -> None:
        self.paper.heading("What this allows one to say, and what not")
        for text in self.report["says"]:
            self.paper.text(text, STRONG)
        for text in self.report["says_not"]:
            self.paper.text(f"–  {text}", indent_mm=4)

    def _signatures(self) -> None:
        self.paper.heading("Signatures")
        for one in self.report["signatures"]:
            by = f"{one['by']['name']}, {one['role']}, {self._at(one['at'])}"
            self.paper.keep(12.0)
            self.paper.text(by, STRONG)
            self.paper.text(f"Meaning: {one['meaning']}", indent_mm=4)
            if one["note"]:
                self.paper.text(f"“{one['note']}”", indent_mm=4)
            self.paper.space(2.0)
        if self.draft:
            self.paper.text("This is a draft. It is signed when the stock-take is closed.")
        else:
            self.paper.keep(105.0)
            for who, meaning in BY_HAND:
                self._line(who, meaning)
        self.paper.space(4.0)
        self.paper.keep(14.0)
        told = "SHA-256 of the report as a file (report.json, all but this hash)"
        bears = "" if self.draft else "; an entry of the book behind the closing point bears it"
        self.paper.text(f"{told}{bears}:")
        self.paper.text(hash_groups(self.report["sha256"]), CODE_LIGHT)
        if _lacking(self.report):
            self.paper.text("A question mark may stand for a letter that could not be printed.")

    def _line(self, who: str, meaning: str) -> None:
        """Room for a signature by hand: what it means, name, date, signature."""
        paper = self.paper
        paper.keep(30.0)
        paper.text(who, STRONG)
        paper.text(meaning)
        paper.y += 11.0
        for told, x, width in (
            ("Name", 0, 62),
            ("Date", 68, 30),
            ("Signature", 104, WIDTH_MM - 104),
        ):
            left = LEFT_MM + x
            paper.pages[-1].append(Rule(left, paper.y, left + width, paper.y, thick_mm=0.2))
            paper.pages[-1].append(words(told, TEXT, SMALL_MM, left, paper.y + BODY_MM + 1.2))
        paper.y += 8.0
