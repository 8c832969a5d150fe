"""What is said about the oxygen in a room: by which formula, what is taken for granted, who says
which level means what, what an alarm must do, and whether one may go in.

Pure. Where sources disagree both are said, with their names.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor

from service.nitrogen.oxygen import DEFICIENT_PERCENT, Air
from service.nitrogen.oxygen_cases import Left, Release

_OXFORD = "University of Oxford, Policy Statement S4/03, Appendix 1"
_FERMILAB = "Fermilab ESH&Q Manual, chapter 4240, section 6.1.A, as code that quotes it has it"
_EIGA = "European Industrial Gases Association, Doc 44/18"
_BCGA = "British Compressed Gases Association, as the University of Nottingham quotes it"
_SOM = "a university's safety document, SOM036a"
_CRYOBANK = "German engineering guidance for cryobanks"
_SWISS = "Switzerland, EKAS/CFSL guide to VUV Art. 33"

#: Below this most sources order people out.
EVACUATE_PERCENT = 18.0


@dataclass(frozen=True, slots=True)
class Threshold:
    """A level of oxygen, what it means, and who says so."""

    percent: float
    meaning: str
    source: str


THRESHOLDS: Sequence[Threshold] = (
    Threshold(
        19.5,
        "Below: short of oxygen, and an immediate danger to life or health.",
        "US OSHA, 29 CFR 1910.134(d)(2)(iii), interpretation of 2007",
    ),
    Threshold(
        19.5, "Below (and above 23.5 %): a hazardous atmosphere.", "US OSHA, 29 CFR 1910.146"
    ),
    Threshold(19.5, "The least for going in; less only after a risk assessment.", _EIGA),
    Threshold(19.5, "The least; leave the room below it.", _BCGA),
    Threshold(19.5, "Warn.", _SOM),
    Threshold(19.0, "At or above: normal.", _CRYOBANK),
    Threshold(19.0, "19 to 21 %: normal.", _SWISS),
    Threshold(18.0, "Leave the room.", _SOM),
    Threshold(18.0, "Below: alarm, and shut off the nitrogen.", _CRYOBANK),
    Threshold(18.0, "Never below.", _SWISS),
    Threshold(
        18.0,
        "Never below a partial pressure of 135 mmHg: 18 % at 740 mmHg, more in the mountains.",
        "ACGIH, as Argonne National Laboratory quotes it, ODH Appendix 3",
    ),
    Threshold(14.0, "Below: judgement and movement are impaired.", _SOM),
)


@dataclass(frozen=True, slots=True)
class Formula:
    """How a figure is reckoned, and who says so."""

    figure: str
    formula: str
    source: str


FORMULAS: Sequence[Formula] = (
    Formula(
        "evaporation_m3_per_hour",
        "R = ageing_factor × expansion_ratio × rated loss of all tanks [L/day] / (24 × 1000)",
        _OXFORD,
    ),
    Formula(
        "steady_percent",
        "with Q = volume_m3 × air_changes_per_hour: supply fan c0 × Q / (Q + R); exhaust fan "
        "c0 × (1 − R / Q), 0 when Q ≤ R; without a fan it falls to 0",
        _FERMILAB,
    ),
    Formula(
        "hours_to_19_5_percent",
        "C(t) = Cs + (c0 − Cs) × exp(−k t), Cs the steady percentage; k = (Q + R) / V with a "
        "supply fan, Q / V with an exhaust fan, R / V without one",
        _FERMILAB,
    ),
    Formula(
        "filling_percent",
        "c0 × (V − Vg) / V, Vg = 0.1 × capacity of the largest tank × expansion_ratio / 1000",
        _OXFORD,
    ),
    Formula(
        "spill_percent",
        "c0 × (V − Vg) / V, Vg = capacity of the largest tank × expansion_ratio / 1000",
        f"{_OXFORD}; University of Nottingham",
    ),
    Formula(
        "full_loss_percent",
        "c0 × (V − Vg) / V, Vg = 1.1 × capacity of all tanks × expansion_ratio / 1000",
        f"{_OXFORD}; the 1.1 from memory",
    ),
    Formula(
        "recovery_minutes",
        f"t = −ln((Cs − {DEFICIENT_PERCENT}) / (Cs − C)) / k, tanks evaporating on",
        _FERMILAB,
    ),
)

CAUTION = (
    "An estimate for planning. It takes the air as perfectly mixed, but cold nitrogen is nearly "
    "four times as heavy as air and gathers low, in pits and corners, where less oxygen is left "
    "than it says. It is no substitute for a fixed oxygen alarm. Local codes and a competent "
    "person decide."
)

WHAT_TO_DO: Sequence[str] = (
    "Never fill or go in alone, nor when a fixed or personal oxygen alarm sounds.",
    "Leave when an alarm sounds, shut the door behind you, and bring nobody out without breathing "
    "apparatus: many who died in confined spaces had gone in to help (US NIOSH 1986, from memory).",
    "An open door is not ventilation: keep the fan running before and while anybody is inside.",
    "Never share a lift with a filled dewar; strap it upright and air the vehicle on the road.",
)


def assumptions(air: Air, *, ageing_factor: float) -> Sequence[tuple[str, float | str, str]]:
    """What is taken for granted: what, its value, and whose it is."""
    return (
        (
            "expansion_ratio",
            air.expansion_ratio,
            "Litres of gas of one litre of liquid. Sources near sea level: 680 (worksheet), 682 (a "
            "university's guideline, 2014), 696 (Lawrence Berkeley National Laboratory, PUB-3000), "
            "700 (University of Oxford; Fermilab); 892 at 2000 m.",
        ),
        ("oxygen_percent", air.oxygen_percent, "Of fresh air: 20.9 to 21 % by source."),
        ("ageing_factor", ageing_factor, f"Allowance for aged insulation: {_OXFORD} takes 2."),
        ("volume_m3", air.volume_m3, "The room's record: what stands in it is to be taken off."),
        (
            "ventilation",
            air.ventilation,
            "Which fan moves the air that is counted; with the same figures a supply fan leaves "
            "more oxygen than an exhaust fan.",
        ),
        ("mixing", "perfect", "Air is the same everywhere, and each release finds fresh air."),
        (
            "loss",
            "rated",
            "The makers' rated loss of the tanks in this room, not the measured one.",
        ),
    )


def alarm_words(left: Left) -> Sequence[str]:
    """What an oxygen alarm must do in this room."""
    words = [
        f"Warn at 19.5 % ({_SOM}); that is also the least for going in ({_EIGA}; {_BCGA}).",
        f"Send everybody out: sources differ. Below 19.5 %: {_BCGA}. At 18 %: {_SOM}; {_CRYOBANK}, "
        f"which also shuts off the nitrogen; {_SWISS}: never below. The stricter one is safe.",
        "It must be seen and heard at the door before anybody goes in, and inside (common "
        "practice, no source).",
    ]
    if left.spill.percent < EVACUATE_PERCENT:
        words.append(
            f"If the largest tank spills, {shown(left.spill.percent)} % is left at once: the alarm "
            "must sound within seconds, near the floor and at breathing height."
        )
    return words


def may_enter_words(left: Left, *, tanks: int) -> Sequence[str]:
    """Whether one may go in, as far as an estimate can tell."""
    if not tanks:
        return ["By the book no tank stands in this room: there is nothing to reckon."]
    return [_everyday(left), *_mishaps(left), _ALWAYS]


_ALWAYS = (
    "Go in only while the oxygen alarm, fixed or on you, shows 19.5 % or more. This estimate does "
    "not know what happened in the room today."
)


def _everyday(left: Left) -> str:
    steady, hours = left.steady_percent, left.hours_to_deficient
    if steady is None:
        when = "" if hours is None else f", to 19.5 % about {_time(hours)} after it was aired"
        return (
            f"Nothing airs this room: oxygen only falls{when}. Air it and measure before you go in."
        )
    if steady < DEFICIENT_PERCENT:
        return (
            f"Do not go in: even while the fan runs, evaporation leaves only {shown(steady)} % of "
            "oxygen in the long run. The room needs more ventilation."
        )
    return (
        f"While the fan runs, evaporation leaves {shown(steady)} % of oxygen, above 19.5 %. Where "
        "the fan has stood still, air the room first."
    )


def _mishaps(left: Left) -> Sequence[str]:
    told = (
        ("Filling the largest tank", left.filling),
        ("A spill of the largest tank", left.spill),
    )
    return [
        f"{what} can leave {shown(release.percent)} %, {_meaning(release)}"
        for what, release in told
        if release.percent < DEFICIENT_PERCENT
    ]


def _meaning(release: Release) -> str:
    where = "too little to stay" if release.percent < EVACUATE_PERCENT else "below 19.5 %"
    if release.recovery_hours is None:
        return f"{where}, and nothing brings it back to 19.5 %."
    return f"{where}; the fan brings it back to 19.5 % in about {_time(release.recovery_hours)}."


def shown(percent: float) -> str:
    """A percentage in a sentence, rounded down: below a threshold it never reads as being it."""
    return f"{floor(percent * 10 + 1e-9) / 10:.1f}"


def _time(hours: float) -> str:
    if hours < 2:
        return f"{hours * 60:.0f} minutes"
    return f"{hours:.0f} hours" if hours < 72 else f"{hours / 24:.0f} days"
