"""The validation pack in words: the table of `validation.md`, and the lines that the command prints."""

from __future__ import annotations

from collections.abc import Sequence

from ...validation.check import Check, Quantity
from ...validation.pack import Result
from ..command.numbers import plural
from ..files.provenance import versions
from ..outcome.cautions import CAUTION

COLUMNS = ("check", "quantity", "reference", "ours, coarse to fine", "error", "allowed", "rate", "verdict")
HOW = {
    "closed form": "closed form",
    "published": "published; the source says what was seen",
    "from memory": "from memory",
    "another code": "another code",
    "own extrapolation": "our own finer model",
}
PICTURES = {
    "errors.png": "Error of every quantity (dot) and what is allowed (tick)",
    "convergence.png": "Rates at which errors fall with the element size",
    "profiles.png": "Profiles: reference as a line, ours as points",
}


def percent(value: float) -> str:
    """A share in per cent with two digits; below a millionth, as a power of ten."""
    if value == 0:
        return "0"
    return (
        f"{value:.0e}"
        if abs(value) < 1e-6
        else f"{100 * value:+.2g} %"
        if abs(value) < 1e-3
        else f"{100 * value:+.2f} %"
    )


def number(value: float) -> str:
    """Five digits that count."""
    return f"{value:.5g}"


def cells(quantity: Quantity) -> tuple[str, ...]:
    """Reference, ours, error, allowed, rate and verdict of a quantity, as COLUMNS from the third on."""
    unit = f" {quantity.unit}" if quantity.unit not in ("", "-", "1") else ""
    rate = "" if quantity.rate is None or quantity.least_rate is None else f"{quantity.rate:.2f}"
    points = quantity.scale == 1.0 and quantity.reference != 0  # a share of the whole, not of the reference

    def shown(value: float) -> str:
        return percent(value).replace("%", "points") if points else percent(value)

    allowed = shown(quantity.tolerance).lstrip("+")
    if quantity.least_error is not None:
        allowed = f"{shown(quantity.least_error)} to {shown(quantity.tolerance)}"
    return (
        f"{number(float(quantity.reference))}{unit}",
        ", ".join(number(float(value)) for value in quantity.ours),
        shown(quantity.errors[-1]),
        allowed,
        rate,
        "pass" if quantity.passed else "FAIL",
    )


def summary(results: Sequence[Result], whole: int | None = None) -> str:
    """How many checks and quantities, how many agree, and how long it took.

    whole : checks of the pack; if there are more than results, the text says that these are not all.
    """
    verdicts = [result.verdict for result in results]
    quantities = sum(len(result.quantities) for result in results)
    counted = f"{plural(len(results), 'check')}, {plural(quantities, 'quantity', 'quantities')}"
    text = f"{counted}: {verdicts.count('pass')} pass"
    for verdict, words in (("FAIL", "fail"), ("not run", "not run (packages missing)")):
        if count := verdicts.count(verdict):
            text += f", {count} {words}"
    if whole is not None and whole > len(results):
        text += f" (of {whole} checks in the pack; the others were not measured with this code)"
    return f"{text}; {sum(result.seconds for result in results):.0f} s."


def page(results: Sequence[Result], pictures: Sequence[str], whole: int) -> str:
    """The whole of `validation.md`: summary, figures, a table a group, sources and tolerances with reasons.

    whole : how many checks the pack has.
    """
    used = ", ".join(f"{name} {found}" for name, found in versions().items())
    parts = [
        "# What icecone is right about, how right, and against whom",
        f"**{summary(results, whole)}**",
        "Each check runs the toolkit's own geometry, solver and contact unless its *part* says otherwise. "
        "*Error* is that of the finest mesh, relative to the reference (of a share: in points of the whole); "
        "*rate* is the observed power of the element size over the last two meshes, given where the reference is the "
        "limit of refinement. These checks say that the equations are solved, and which equations; how well they "
        "describe ice, the field tables have to say.",
        f"> {CAUTION}",
        f"Made with {used}.",
        *(f"![{PICTURES[name]}]({name})" for name in pictures),
    ]
    groups = list(dict.fromkeys(result.check.group for result in results))
    for group in groups:
        here = [result for result in results if result.check.group == group]
        parts += [f"## {group[0].upper()}{group[1:]}", _table(here), *(_source(result) for result in here)]
    return "\n\n".join(parts) + "\n"


def _table(results: Sequence[Result]) -> str:
    lines = ["| " + " | ".join(COLUMNS) + " |", "|" + " --- |" * len(COLUMNS)]
    for result in results:
        if not result.quantities:
            lines.append(f"| {result.check.name} | {result.problem} |" + " |" * 5 + f" {result.verdict} |")
        for at, quantity in enumerate(result.quantities):
            name = result.check.name if at == 0 else ""
            lines.append("| " + " | ".join((name, quantity.name, *cells(quantity))) + " |")
    return "\n".join(lines)


def _source(result: Result) -> str:
    check: Check = result.check
    reasons = list(dict.fromkeys(quantity.because for quantity in result.quantities))
    text = f"**{check.name}** {check.title}. *Source* ({HOW[check.how]}): {check.source}. *Part*: {check.part}."
    if reasons:
        text += f" *Allowed*: {'; '.join(reasons)}."
    return f"{text} {result.seconds:.1f} s."
