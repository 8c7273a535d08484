"""Words of the field, explained on each report; the front page's table of words says the same (a test holds it)."""

from __future__ import annotations

from .page import Table

LIMIT_AND_PEAK = (
    "The limit is what gives way first of all, hanger and sling included; the peak is what tube and ice alone would "
    "hold."
)
WORDS = (
    ("head, tip", "upper end of the tube, with the hanger; lower end, where the threads begin"),
    (
        "eye; tied off",
        "where the pull enters: the hanger's eye, or a sling round the bare shank",
    ),
    (
        "crust; chip; trench",
        "weak ice of stated thickness on top; piece of ice that a crack frees in front of the tube; what chips leave",
    ),
    ("onset", "pull at which the ice first fails; first damage, mostly far below the peak"),
    (
        "peak",
        "largest pull that tube and ice hold before the metal breaks, up to two stops, of movement (150 mm unless the "
        "case says otherwise) and of turn (60°)",
    ),
    ("band", "the peak if every chip comes out, and if none does"),
    (
        "limit",
        "the weakest of tube and ice, hanger, sling, the last two as stated by their makers (modes hanger, sling)",
    ),
    (
        "early load; first drop",
        "largest load within one tube diameter of movement; load from which the pull first falls by 5 %, as "
        "a load cell shows it",
    ),
    (
        "hinge; wall wrinkles",
        "a section of the tube yields all through; its pressed side buckles, and it bears less from there on",
    ),
    ("lever-out (mode)", "the tube turns out of the hole unbent: the ice in front goes or is crushed"),
    (
        "tube bends; not reached (modes)",
        "the tube has a hinge and turns on, or breaks; the load still rises at a stop, or where the model ends",
    ),
    (
        "rope; sling slides (modes)",
        "the bent tube carries the pull like a rope; friction no longer holds the sling on the shank",
    ),
    (
        "cone; threads stripped (modes)",
        "a crack from the tip runs to the surface, and ice comes out with the tube; the ice between the "
        "threads shears off",
    ),
)


def glossary() -> Table:
    """The table of words."""
    return Table("What the words mean", ("word", "meaning"), WORDS, sorts=False)
