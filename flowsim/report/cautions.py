"""What is always said about a result, in the report and at the end of the terminal table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from flowsim.simulate.transport_result import ReleaseResult

__all__ = [
    "CAUTIONS",
    "LIMITS_OF_MODEL",
    "LIMITS_OF_SHARES",
    "SHORT_CAUTION",
    "SubstanceCaution",
    "substance_cautions",
]

LIMITS_OF_MODEL = (
    "The chamber's air is modelled without wakes, jets or eddies: nothing here shows the air "
    "turning behind an arm, a hand or an object.",
    "Room currents count only through the draught stated in the case; a door, a heater or a "
    "person walking by is not in it.",
    "Where a front draws room air in, that air comes as a jet which this model does not follow: "
    "take results near it as a direction, not as a size.",
)

LIMITS_OF_SHARES = (
    "A share of vapour or room air stands on assumed eddies and is good to decades, not to digits. "
    "Below 0.1 % the model does not resolve an escape: a hand that is drawn out carries more.",
    "Where a picture shows no escape, that does not mean contained: arms, wakes and what a person "
    "carries out on the sleeves are not in it.",
    "Vapour is taken to weigh as much as air and to be given off evenly: a heavy cloud that rolls "
    "over a rim, a spill or a splash is not in it.",
)

CAUTIONS = (
    "This is a screening model, not a test of the enclosure you have built. Measure it when it "
    "is built: velocities at the front, pressures in compartment and plenum, smoke along every "
    "edge; and measure again after each change.",
    "Hazardous work needs a tested fume cupboard or the advice of someone licensed to give it; "
    "a figure on this page is neither.",
    "Local codes decide where exhaust air may go, what must treat it first and who must know.",
    "Check that the air flows before every use, and have a fan failure seen and heard.",
    "Never work alone with hydrofluoric acid or another acid that can kill by skin or breath; "
    "keep the antidote and trained help at hand.",
    "A bench held above the room's pressure blows towards the operator by design: what is "
    "released inside reaches the person in front of it.",
)

SHORT_CAUTION = (
    "Screening model, not a test of the built enclosure. Hazardous work needs a tested fume "
    "cupboard or licensed advice; local codes decide about exhaust air; check the flow before "
    "every use; never work alone with hydrofluoric or other deadly acids; an overpressure bench "
    "blows at the operator. Measure when built."
)

ACIDS = ("hydrogen chloride", "hydrogen fluoride", "nitric acid", "acetic acid")
STRONG = ACIDS[:3]
FLAMMABLE = ("acetone", "isopropanol", "ethanol", "methanol", "toluene")
ORGANIC = (*FLAMMABLE, "acetic acid", "dichloromethane")
ANY = ("",)


@dataclass(frozen=True)
class SubstanceCaution:
    """What is to be said of some substances.

    Parameters
    ----------
    substances : tuple of str
        Vapours that call for it; an empty name stands for every release.
    short, full : str
        For the terminal and for the page.
    danger_only : bool
        Whether it is said only where a limit marks danger to life.

    Notes
    -----
    Own words after [NRC1995]_, [NIOSHGuide]_ and [OSHA1910]_; handling of silvering solutions and
    of dichloromethane's smell: common practice, no source.
    """

    substances: tuple[str, ...]
    short: str
    full: str
    danger_only: bool = False


SUBSTANCES = (
    SubstanceCaution(
        ("hydrogen fluoride",),
        "Hydrofluoric acid at any strength: only with training, calcium gluconate gel and a "
        "shower in reach, a second person, and a doctor told beforehand. Can it be avoided?",
        "Hydrofluoric acid at any strength kills through skin and breath, and the burn of a weak "
        "acid may hurt only a day later. It needs training, a written procedure, calcium gluconate "
        "gel in date and a shower in reach before the bottle is opened, a second person who knows "
        "what to do, and a doctor or poison centre told beforehand. After skin contact rinse at "
        "once, gel, hospital, even without pain. Plastic vessels, never glass; no sand on a spill. "
        "Ask first whether it can be avoided.",
    ),
    SubstanceCaution(
        STRONG,
        "Strong acid: into water, slowly; eye and face protection; the exhaust needs a wet "
        "scrubber made for it, as particle filters and plain carbon hold no acid gas.",
        "Strong acid goes into water, slowly, never the other way round; eye and face protection "
        "belong to it. Its gas passes particle filters and plain carbon: the exhaust needs a wet "
        "scrubber made for the acid and ends outdoors, away from intakes, windows and neighbours. "
        "On aluminium, zinc or iron acids make hydrogen, which burns.",
    ),
    SubstanceCaution(
        ACIDS,
        "Never acid and hypochlorite (bleach), nor acid and cyanide: deadly gas.",
        "Keep acids from hypochlorite (bleach) and from cyanide, in the tray, in the exhaust, in "
        "the drain and in the waste: together they give off gas that kills.",
    ),
    SubstanceCaution(
        ("nitric acid",),
        "Nitric acid apart from solvents and everything organic: fire and explosion.",
        "Nitric acid shares no tray, no exhaust and no waste vessel with acetone, alcohols or "
        "anything organic, rags and paper included: they may take fire or explode together.",
    ),
    SubstanceCaution(
        ("ammonia",),
        "Ammonia: the nose gets used to it, so its smell measures nothing; never with "
        "hypochlorite; silvering solution is made fresh and never kept (explosive).",
        "Ammonia burns eyes and lungs, and the nose gets used to it: its smell measures nothing. "
        "Never with hypochlorite (bleach). A silvering solution with ammonia is made fresh, used, "
        "and made harmless the same day: on standing it can form silver compounds that explode at "
        "a touch (common practice, no source).",
    ),
    SubstanceCaution(
        FLAMMABLE,
        "Flammable: right over the liquid it can burn whatever the mean in the duct says; no "
        "spark in enclosure or exhaust, fan and lamp rated for it, metal earthed, little of it.",
        "Flammable vapour: right over the liquid the air is in or above the flammable range, "
        "whatever the mean in the duct says. No source of ignition in the enclosure or the "
        "exhaust, fan and lamp rated for it, metal parts earthed, small quantities.",
    ),
    SubstanceCaution(
        ("dichloromethane",),
        "Dichloromethane is smelt only far above its limits: smell is no warning.",
        "Dichloromethane is smelt only far above its limits: smell is no warning. It passes most "
        "gloves within minutes (common practice, no source), and in some countries its use is "
        "forbidden or needs a written programme.",
    ),
    SubstanceCaution(
        ANY,
        "Smell is no warning. Fan failure must be seen and heard; cover the tray first, then "
        "leave.",
        "Smell is no warning and no measure. A fan failure must be seen and heard: cover the tray "
        "first, then leave. Start the exhaust before the work and stop it long after.",
    ),
    SubstanceCaution(
        ANY,
        "IDLH marks danger to life within half an hour; it is no limit to work at.",
        "IDLH marks danger to life or health within half an hour, for planning an escape. It is no "
        "limit to work at; where it was set at a tenth of the lower flammable limit it says "
        "nothing of poison.",
        danger_only=True,
    ),
)


def _applies(caution: SubstanceCaution, releases: Sequence[ReleaseResult]) -> bool:
    """Return whether any release calls for a caution."""
    hit = any(
        name == "" or release.substance == name
        for name in caution.substances
        for release in releases
    )
    danger = any(check.kind == "IDLH" for release in releases for check in release.checks)
    return hit and (danger or not caution.danger_only)


def substance_cautions(releases: Sequence[ReleaseResult]) -> tuple[SubstanceCaution, ...]:
    """Return what is to be said of the substances of a case.

    Parameters
    ----------
    releases : sequence of ReleaseResult
        Releases of the case. [SI]

    Returns
    -------
    tuple of SubstanceCaution
        Each once; a case that holds nitric acid beside something organic hears of it first.
    """
    hazards = [release for release in releases if release.substance != "water"]
    found = [caution for caution in SUBSTANCES if _applies(caution, hazards)]
    names = {release.substance for release in hazards}
    organic = ", ".join(sorted(names & set(ORGANIC)))
    if "nitric acid" in names and organic:
        text = (
            f"This case holds nitric acid and {organic}: separate them, in the tray, in the "
            "exhaust and in the waste; together they may take fire or explode."
        )
        found.insert(0, SubstanceCaution(("nitric acid",), text, text))
    return tuple(found)
