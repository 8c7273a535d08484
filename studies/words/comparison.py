"""Predicted beside measured pulls in words: is there a bias, is the range honest, which rows lie worst, and why."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..case.words import AXIS_WORDS, KEYS, short_name
from ..command.numbers import percent, plural, short
from ..command.plain_text import markdown
from ..field.compare import LOAD_ERROR, Comparison, Pair, explained_by
from ..field.predict import draws_words
from ..outcome.cautions import CAUTION, COMPARED, IN_VIEW, INVENTED
from ..outcome.data import LOADS

if TYPE_CHECKING:
    from ..field.agreement import Agreement
    from ..sweep.statistics import Known

WORST = 3
HEADS = ("pull", "flag", "measured (kN)", "predicted (kN)", "over predicted", "draws below", "seen", "said")


def cautions(found: Comparison) -> list[str]:
    """What must stand under a comparison."""
    own = [INVENTED] if "invented" in found.flags else []
    own += [IN_VIEW] if "common practice" in found.flags else []
    return [*own, COMPARED, CAUTION]


def against_words(found: Comparison) -> str:
    """The load that is held against."""
    return {"limit": "limit", **LOADS}[found.against]


def answer(found: Comparison) -> str:
    """The comparison in a sentence or two: the bias, and whether the range is honest."""
    whole, count = found.whole, len(found.measured)
    if whole is None:
        return "No row has both a measured and a predicted load."
    rows = f"{plural(count, 'pull')}"
    if whole.bounds:
        rows += f", {whole.bounds} of them bounds"
    if whole.bias is None:
        return f"{rows}: too few to say more than row by row."
    bias = whole.bias
    words = f"{rows}: measured {against_words(found)} over predicted {_known(bias)}"
    if bias.low <= 1 <= bias.high:
        words += ", so no bias is seen"
    else:
        words += f", so the model says too {'little' if bias.value > 1 else 'much'}"
    inside = whole.inside.get(0.9)
    if inside is None or not found.draws:
        return f"{words}."
    honest = "honest" if inside.low <= 0.9 <= inside.high else "too narrow" if inside.high < 0.9 else "too wide"
    return f"{words}. Of the ranges that should hold nine in ten, {percent(inside.value, 0)} do: {honest}."


def _known(known: Known) -> str:
    return f"{known.value:.2f} ({known.low:.2f} to {known.high:.2f})"


def agreement_lines(whole: Agreement) -> list[str]:
    """All that the statistics tell, a line each."""
    found = []
    if whole.bias is not None:
        found.append(f"measured over predicted: {_known(whole.bias)}, in brackets nine of ten resamples of placements")
    if whole.scatter is not None:
        words = f"scatter about it: a factor of {short(_factor(whole.scatter), 3)}"
        if whole.between is not None and whole.within is not None:
            words += f"; between placements {short(_factor(whole.between), 3)}"
            words += f", between repeats of one {short(_factor(whole.within), 3)}"
        found.append(words)
    for share, known in whole.inside.items():
        if known is not None:
            of = f"{percent(known.low, 0)} to {percent(known.high, 0)}"
            found.append(f"inside the middle {percent(share, 0)} of the draws: {percent(known.value, 0)} ({of})")
    if whole.concordance is not None:
        known, rank = whole.concordance, whole.spearman
        words = f"order: of two placements the one said to hold more did in {percent(known.value, 0)} of the pairs"
        words += f" ({percent(known.low, 0)} to {percent(known.high, 0)}; by chance 50 %)"
        found.append(words + (f"; rank correlation {rank:.2f}" if rank is not None else ""))
    if whole.modes_right is not None:
        known = whole.modes_right
        found.append(f"what gives way: right in {percent(known.value, 0)} of {sum(whole.modes.values())} pulls")
    return [*found, f"not told: {'; '.join(whole.untold)}"] if whole.untold else found


def _factor(sd: float) -> float:
    from math import exp

    return exp(sd)


def worst_lines(found: Comparison) -> list[str]:
    """The rows that lie farthest off, each with the input that would most likely explain it."""
    lines = []
    for pair in found.worst[:WORST]:
        if pair.measured is None or pair.ratio is None:
            continue
        least = "at least " if pair.measured.is_bound else ""
        line = f"{pair.id}: {least}{short(pair.ratio, 2)} times the predicted {short(pair.measured.predicted(0.5))} kN"
        if cause := explained_by(pair):
            key, there, middle = cause
            unit = KEYS[key].unit
            unit = f" {unit}" if unit else ""
            line += (
                f"; {short_name(key)} near {short(there, 2)}{unit} (median {short(middle, 2)}) would explain it best"
            )
        elif found.draws:
            line += "; no single input explains it"
        lines.append(line)
    return lines


def group_lines(found: Comparison) -> list[str]:
    """Bias by group, where a group has enough rows."""
    lines = []
    for key, of in found.groups.items():
        told = [f"{value} {_known(each.bias)}" for value, each in of.items() if each.bias is not None]
        few = [value for value, each in of.items() if each.bias is None]
        if told:
            name = AXIS_WORDS.get(key, key).partition(" [")[0].partition("   (")[0]
            lines.append(f"by {name}: {'; '.join(told)}" + (f"; too few: {', '.join(few)}" if few else ""))
    return lines


def row_cells(pair: Pair) -> tuple[str, ...]:
    """A row of the table, under HEADS."""
    row = pair.prediction.row
    low, middle, high = pair.range()
    said = str(pair.prediction.plain.get(f"{pair.against}_mode") or "")
    measured = (
        "" if row.peak_kN is None else f"{'≥ ' if pair.measured and pair.measured.is_bound else ''}{row.peak_kN:g}"
    )
    if middle is None or low is None or high is None:
        return (row.id, row.flag, measured, "no prediction", "", "", row.seen, "")
    predicted = f"{short(middle)} ({short(low, 2)} to {short(high, 2)})" if low < high else short(middle)
    ratio = "" if pair.ratio is None else f"{pair.ratio:.2f}"
    place = "" if pair.place is None or not pair.prediction.draws else percent(pair.place, 0)
    return (row.id, row.flag, measured, predicted, ratio, place, row.seen, said)


def unpredicted(found: Comparison) -> list[str]:
    """Rows without a prediction, with the reason."""
    return [
        f"{pair.id}: {pair.prediction.problem}" for pair in found.pairs if pair.prediction.load(found.against) is None
    ]


def page(found: Comparison, learnt: list[str]) -> str:
    """The comparison as Markdown. learnt : lines of a fit."""
    rows = [f"| {' | '.join(markdown(cell) for cell in row_cells(pair))} |" for pair in found.pairs]
    changed = ", ".join(f"{key} = {value}" for key, value in found.changed.items())
    open_ = [f"{pair.id}: {'; '.join(pair.prediction.assumed)}" for pair in found.pairs if pair.prediction.assumed]
    lines = [
        f"# {markdown(found.name)}: predicted beside measured",
        "",
        f"**{markdown(answer(found))}**",
        "",
        *(f"> {text}\n>" for text in cautions(found)),
        "",
        f"Held against: {against_words(found)}. Range: {draws_words(found.draws)}, seed {found.seed}. A measured "
        f"load is known to {percent(LOAD_ERROR, 0)}. ≥: the pull ended otherwise, its peak is at least that."
        + (f" Changed for all: {markdown(changed)}." if changed else ""),
        "",
        f"| {' | '.join(HEADS)} |",
        "| " + " | ".join(["---"] * len(HEADS)) + " |",
        *rows,
        "",
    ]
    whole = agreement_lines(found.whole) if found.whole else []
    modes = mode_table(found.whole) if found.whole else []
    for head, of in (
        ("All pulls", whole),
        ("By group", group_lines(found)),
        ("Farthest off", worst_lines(found)),
        ("What the pulls teach", learnt),
        ("Rows without a prediction", unpredicted(found)),
        ("Rows left out of the table", list(found.problems)),
        ("Taken for granted", [*found.said, *open_]),
    ):
        if of:
            lines += [f"## {head}", "", *(f"- {markdown(text)}" for text in of), ""]
        if head == "All pulls":
            lines += modes
    return "\n".join(lines).rstrip() + "\n"


def mode_table(whole: Agreement) -> list[str]:
    """What was said to give way against what was seen, as a Markdown table."""
    if not whole.modes:
        return []
    said, seen = (list(dict.fromkeys(pair[side] for pair in sorted(whole.modes))) for side in (0, 1))
    rows = [
        f"| {markdown(one)} | {' | '.join(str(whole.modes.get((one, other), 0)) for other in seen)} |" for one in said
    ]
    head = f"| said \\ seen | {' | '.join(map(markdown, seen))} |"
    return [head, "| " + " | ".join(["---"] * (len(seen) + 1)) + " |", *rows, ""]
