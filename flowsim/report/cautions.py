"""What is always said about a result, in the report and at the end of the terminal table."""

from __future__ import annotations

__all__ = ["CAUTIONS", "LIMITS_OF_MODEL", "SHORT_CAUTION"]

LIMITS_OF_MODEL = (
    "The chamber's air is modelled without wakes, jets or eddies: nothing here shows the air "
    "turning behind an arm, a hand or an object.",
    "Room currents count only through the draught stated in the case; a door, a heater or a "
    "person walking by is not in it.",
    "Where a front draws room air in, that air comes as a jet which this model does not follow: "
    "take results near it as a direction, not as a size.",
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
