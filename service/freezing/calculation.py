"""How many straws and doses a collection makes: the arithmetic of a freeze.

Exact (`Fraction`, never float) and unrounded: what is made is floored, what is needed is ceiled.
Pure. Sperm are in millions, volumes in mL, percentages from 0 to 100.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import floor

from service.bank.doses import (
    BatchQuality,
    DoseRule,
    SpermRule,
    progressive_million_per_straw,
    straws_per_dose,
)
from service.bank.plausibility import (
    COLLECTION_CONCENTRATION,
    COLLECTION_TOTAL,
    COLLECTION_VOLUME,
    FRESH_MOTILITY,
    POST_THAW_MOTILITY,
    RECOVERY,
    STRAW_CONCENTRATION,
    Impossible,
    plain,
    refuse_impossible,
    remarks_on_doses,
    weigh,
    weigh_post_thaw,
    weigh_straw_volume,
)
from service.bank.rules import Warned
from service.ledger.rules import PlacementsDoNotAddUp


@dataclass(frozen=True, slots=True, kw_only=True)
class Collection:
    """One ejaculate, gel-free, before anything was added."""

    volume_ml: Fraction
    concentration_million_per_ml: Fraction
    progressive_motility_percent: Fraction

    @property
    def total_million(self) -> Fraction:
        """All sperm in it."""
        return self.volume_ml * self.concentration_million_per_ml

    @property
    def progressive_million(self) -> Fraction:
        """Those of them that swim forward."""
        return self.total_million * self.progressive_motility_percent / 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Filling:
    """What goes into each straw."""

    volume_ml: Fraction
    concentration_million_per_ml: Fraction

    @property
    def load_million(self) -> Fraction:
        """All sperm in one straw."""
        return self.volume_ml * self.concentration_million_per_ml


@dataclass(frozen=True, slots=True, kw_only=True)
class Calculation:
    """What a collection makes.

    `straws_possible` is how many straws the recovered sperm fill, `volume_ml` what fills them, and
    `extender_ml` how much of it is extender (see `calculate`). `doses` are those of
    `straws_possible`. Without a rule, `straws_per_dose`, `doses` and `meets_rule` are None. Under a
    rule by sperm, `meets_rule` is None as long as no post-thaw result is known, False below the
    rule's minimum, and `doses` is None in both cases.
    """

    total_million: Fraction
    progressive_million: Fraction
    straws_possible: int
    volume_ml: Fraction
    extender_ml: Fraction
    progressive_million_per_straw: Fraction | None
    straws_per_dose: int | None
    doses: int | None
    meets_rule: bool | None
    warnings: tuple[Warned, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StrawCounts:
    """What became of the straws that were filled: stored, spoiled, thawed for a test."""

    stored: int
    spoiled: int = 0
    tested: int = 0

    @property
    def made(self) -> int:
        """All that were filled."""
        return self.stored + self.spoiled + self.tested


def calculate(
    *,
    collection: Collection,
    straw: Filling,
    post_thaw_percent: Fraction | None = None,
    recovery_percent: Fraction | None = None,
    dose_rule: DoseRule | None = None,
    centrifuged: bool = True,
) -> Calculation:
    """The figures of a freeze; raises `Implausible` when one of them cannot be right.

    `extender_ml`: sperm for freezing are centrifuged and taken up anew (`centrifuged`), so all of
    `volume_ml` is extender, the pellet's own volume neglected: fill up *to* `volume_ml`. Semen that
    is only diluted brings its share of the volume along, and extender is the rest.
    """
    warnings = _examine(collection, straw, post_thaw_percent, recovery_percent)
    if recovery_percent is None and centrifuged:
        message = "No recovery given: 100 % is assumed; centrifuging usually leaves 75 to 95 %."
        warnings.append(Warned("recovery-assumed", RECOVERY.field, message))
    recovered_million = collection.total_million * (recovery_percent or 100) / 100
    straws = floor(recovered_million / straw.load_million)
    raw_ml = Fraction(0)
    if not centrifuged:
        _refuse_thickening(collection, straw)
        raw_ml = collection.volume_ml * straws * straw.load_million / recovered_million
    quality = _quality(straw, post_thaw_percent)
    per_dose = straws_per_dose(dose_rule, quality) if dose_rule else None
    doses = straws // per_dose if per_dose else None
    if dose_rule:
        warnings += remarks_on_doses(dose_rule, quality, straws=straws)
    return Calculation(
        total_million=collection.total_million,
        progressive_million=collection.progressive_million,
        straws_possible=straws,
        volume_ml=straws * straw.volume_ml,
        extender_ml=straws * straw.volume_ml - raw_ml,
        progressive_million_per_straw=quality.progressive_million_per_straw,
        straws_per_dose=per_dose,
        doses=doses,
        meets_rule=_meets_rule(dose_rule, quality, per_dose),
        warnings=tuple(warnings),
    )


def remarks_on_count(*, straws_made: int, straws_possible: int) -> list[Warned]:
    """More straws than the sperm fill: kept as counted, and questioned."""
    if straws_made <= straws_possible:
        return []
    message = (
        f"{straws_made} straws were filled, but the sperm are enough for {straws_possible}. Look "
        "at the count, the concentration and the recovery again."
    )
    return [Warned("more-straws-than-possible", "straws", message)]


def check_counts(counts: StrawCounts, *, placed: Sequence[int], prepared: int | None) -> None:
    """Every stored straw has a place, and with a batch prepared every filled straw was marked.

    `placed` are the straws of each placement. Fewer filled than `prepared` is fine: what is left
    of the codes becomes void.
    """
    facts = {"straws": counts.stored, "straws_placed": sum(placed), "straws_made": counts.made}
    if counts.made < 1 or min(counts.stored, counts.spoiled, counts.tested) < 0:
        raise PlacementsDoNotAddUp("A freeze fills at least one straw. Correct the count.", **facts)
    if any(straws < 1 for straws in placed):
        raise PlacementsDoNotAddUp(
            "Each place takes at least one straw. Leave out places that take none.", **facts
        )
    if sum(placed) != counts.stored:
        raise PlacementsDoNotAddUp(
            f"{counts.stored} straws are stored, but the places take {sum(placed)}. "
            "Change the count or the places.",
            **facts,
        )
    if prepared is not None and counts.made > prepared:
        raise PlacementsDoNotAddUp(
            f"{counts.made} straws were filled ({counts.stored} stored, {counts.spoiled} spoiled, "
            f"{counts.tested} tested), but only {prepared} were prepared and marked. "
            "Correct the count, or book the rest as a batch of its own.",
            straws_prepared=prepared,
            **facts,
        )


def _examine(
    collection: Collection,
    straw: Filling,
    post_thaw_percent: Fraction | None,
    recovery_percent: Fraction | None,
) -> list[Warned]:
    fresh_percent = collection.progressive_motility_percent
    figures = [
        (COLLECTION_VOLUME, collection.volume_ml),
        (COLLECTION_CONCENTRATION, collection.concentration_million_per_ml),
        (FRESH_MOTILITY, fresh_percent),
        (STRAW_CONCENTRATION, straw.concentration_million_per_ml),
    ]
    if recovery_percent is not None:
        figures.append((RECOVERY, recovery_percent))
    if post_thaw_percent is not None:
        figures.append((POST_THAW_MOTILITY, post_thaw_percent))
    remarks = weigh(figures) + weigh_straw_volume(straw.volume_ml)
    if not any(isinstance(remark, Impossible) for remark in remarks):
        # A total of impossible factors would only say the same again.
        remarks += weigh([(COLLECTION_TOTAL, collection.total_million)])
    if post_thaw_percent is not None:
        remarks += weigh_post_thaw(post_thaw_percent=post_thaw_percent, fresh_percent=fresh_percent)
    return refuse_impossible(remarks)


def _quality(straw: Filling, post_thaw_percent: Fraction | None) -> BatchQuality:
    per_straw = None
    if post_thaw_percent is not None:
        per_straw = progressive_million_per_straw(
            volume_ml=straw.volume_ml,
            concentration_million_per_ml=straw.concentration_million_per_ml,
            post_thaw_percent=post_thaw_percent,
        )
    return BatchQuality(
        progressive_million_per_straw=per_straw, post_thaw_percent=post_thaw_percent
    )


def _refuse_thickening(collection: Collection, straw: Filling) -> None:
    thin, thick = collection.concentration_million_per_ml, straw.concentration_million_per_ml
    if thick > thin:
        message = (
            f"Straws of {plain(thick)} million/mL cannot be filled by diluting a collection of "
            f"{plain(thin)} million/mL. Centrifuge it, or fill thinner straws."
        )
        refuse_impossible([Impossible(STRAW_CONCENTRATION.field, message)])


def _meets_rule(rule: DoseRule | None, quality: BatchQuality, per_dose: int | None) -> bool | None:
    if rule is None or (isinstance(rule, SpermRule) and quality.post_thaw_percent is None):
        return None
    return per_dose is not None
