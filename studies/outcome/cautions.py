"""What every number that leaves the program must carry, and what the result of each model adds."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from .data import Outcome

CAUTION = (
    "Research and teaching only. Ice varies from place to place and hour to hour; never trust a life to an anchor on "
    "the strength of a number like this. Follow standards, makers' instructions, local codes and qualified practice. "
    "Onset is the first damage, not the peak load."
)
SMALL_PRINT = (
    "Research and teaching only; onset is the first damage, not the peak load. Never trust a life to this number."
)
PULL_CAUTION = (
    "A prediction of tube and ice by mechanics and assumed strengths; do not rely on it: ice varies from place "
    "to place and from hour to hour."
)
CONE_ALONE = (
    "The peak is that of the ice's cone alone. Crushing in front of the tube, the tube's bending, the hanger and the "
    "sling are not in it, and may end the pull earlier."
)
BETWEEN = (
    "Under an inclined pull it is the load at which opening alone drives the weakest cone tried, all modes together "
    "drive it from the least load on."
)
NOT_PEAK = (
    "A later onset is not a higher peak: in the field an upright tube and one leaning 10 to 20 deg toward a pull in "
    "shear hold about the same (common practice, no source)."
)
LATER = (
    "These loads start the damage; they are not the peak that a pull test reports, which comes later, after cracks "
    "have run and the front has crushed or chipped, as a rule at many times the onset (common practice)."
)
COMPARED = (
    "A peak is the largest load carried by tube and ice; few tables say up to which movement. A ratio near 1 is no "
    "proof of the model: some of its strengths are assumed, and ice varies by more than that."
)
IN_VIEW = (
    "Two choices of the model were made with facts of the trade in view (the value inside the band of chips, the "
    "strength of the ice between the threads): agreement with such facts is no test."
)
INVENTED = "Invented rows say nothing about ice."
STARTING_POINTS = "Starting points with wide ranges, for research and teaching only"
HIGH_ENERGY = (
    "A loaded rope throws what breaks. Stand well off. Nobody in line with the rope, nobody near it. Read the cell "
    "from a distance. Helmets and eye protection. Anybody may stop the pull. Keep local rules."
)
NEVER = "Never trust a life to these numbers."
INVENTED_ROUTES = "Invented tube of 140 mm in sound glacier ice at -5 °C."


def own_caution(outcomes: Iterable[Outcome]) -> str:
    """What the results of these outcomes' models add to the general caution, once each; "" for the onset alone."""
    found = [part.caution for each in outcomes if (part := each.peak or each.cone) is not None]
    return " ".join(dict.fromkeys(found))


def all_cautions(outcomes: Iterable[Outcome]) -> list[str]:
    """Paragraphs of caution under what is told of these outcomes."""
    outcomes = list(outcomes)
    return [*filter(None, [own_caution(outcomes)]), *dict.fromkeys(each.caution for each in outcomes)]
