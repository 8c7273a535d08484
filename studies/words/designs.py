"""The answer of a design search in words: the lightest tubes that meet the demand, or that none can, because."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

from ..command.numbers import plural
from ..outcome.cautions import CAUTION, PULL_CAUTION

if TYPE_CHECKING:
    from ..sweep.demand import Design
    from ..sweep.verdict import Found, Verdict

SHOWN = 3  # tubes in the table


def demand_words(design: Design) -> str:
    """What is demanded."""
    require, number = design.require, len(design.situations)
    words = f"a limit of at least {require.limit_kN:g} kN, hanger and sling counted"
    if require.movement_mm is not None:
        words += f", within {require.movement_mm:g} mm of movement"
    if design.draws:
        words += f", in {100 * require.chance:g} % of {design.number} draws"
    return f"{words} of each of {plural(number, 'situation')}" if number > 1 else words


def answers(found: Found) -> list[Verdict]:
    """The lightest tubes that meet the demand; where none does, the closest."""
    met = [each for each in found.verdicts if each.meets]
    if met:
        return met[:SHOWN]
    whole = [each for each in found.verdicts if each.whole]
    return sorted(whole, key=lambda each: (-each.reach_kN, each.candidate.mass_g))[:1]


def table_of(found: Found) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Heads and cells of the answer's table."""
    design = found.search.design
    drawn = design.draws is not None
    heads: tuple[str, ...] = ("tube", "mass (g)")
    share = f"{100 * design.require.chance:g} % of the draws hold (kN)"
    heads += ("chance", share, "half of them hold (kN)") if drawn else ("holds (kN)",)
    heads += ("weakest situation", "what gives way there")
    rows = []
    for each in answers(found):
        cells: tuple[str, ...] = (each.candidate.words, f"{each.candidate.mass_g:.1f}")
        if drawn:
            chance, ends = each.chance or 0.0, [0.0 if end is None else end for end in each.chance_ends]
            cells += (f"{100 * chance:.3g} % ({100 * ends[0]:.3g} to {100 * ends[1]:.3g})", reach_words(each))
            cells += (f"{each.median_kN or 0.0:.2f}",)
        else:
            cells += (f"{each.reach_kN:.2f}",)
        rows.append((*cells, design.situations[each.situation].words, modes_words(each)))
    return heads, rows


def reach_words(verdict: Verdict) -> str:
    """The load that is reached, with its interval as far as the draws bound it."""
    low, high = verdict.reach_ends
    ends = f"{'not bounded' if low is None else f'{low:.2f}'} to {'not bounded' if high is None else f'{high:.2f}'}"
    return f"{verdict.reach_kN:.2f} ({ends})"


def modes_words(verdict: Verdict) -> str:
    """What gives way where the tube holds least, and what else does in its weakest situation."""
    rest = [f"{mode} {count}" for mode, count in verdict.modes.items() if mode != verdict.mode]
    return f"{verdict.mode} (others: {', '.join(rest)})" if rest else verdict.mode


def explain_design(found: Found) -> str:
    """The answer and how it was found; the table apart (`table_of`)."""
    design = found.search.design
    told = [_answer(found), _refused(found), *_doubts(found), *_counts(found)]
    return "\n".join([*filter(None, told), *_lines(found), idle_line(design, found), "", PULL_CAUTION, CAUTION])


def _answer(found: Found) -> str:
    design, best = found.search.design, answers(found)
    demand = demand_words(design)
    if not best:
        problem = next((trial.problem for trial in found.search.trials.values()), "")
        return f"None can, because no tube goes together. Demanded: {demand}. {problem}"
    first = best[0]
    where = design.situations[first.situation].words
    if first.meets:
        return (
            f"The lightest tube that meets it has {first.candidate.mass_g:.1f} g: {first.candidate.words}. Demanded: "
            f"{demand}. It holds least in this situation: {where}; {first.mode} governs there."
        )
    short_by = 1 - first.reach_kN / design.require.limit_kN
    holds = f"holds {first.reach_kN:.2f} kN" + (f" in {100 * design.require.chance:g} % of them" * bool(design.draws))
    return (
        f"None can, because of {first.mode} in this situation: {where}. Demanded: {demand}. The best of "
        f"{plural(len(found.verdicts), 'tube')}, {first.candidate.words} ({first.candidate.mass_g:.1f} g), {holds}: "
        f"{100 * short_by:.2g} % short."
    )


def _refused(found: Found) -> str:
    """What refuses the tubes that do not meet it."""
    design = found.search.design
    refused = [each for each in found.verdicts if not each.meets]
    if not refused:
        return ""
    counts = Counter((design.situations[each.situation].words, each.mode) for each in refused)
    told = [f"{mode} in {count} ({where})" for (where, mode), count in counts.most_common(4)]
    return f"What refuses {plural(len(refused), 'tube')}: {'; '.join(told)}."


def _doubts(found: Found) -> list[str]:
    """What the draws leave open."""
    design, best = found.search.design, answers(found)
    if not best or not best[0].meets or design.draws is None:
        return []
    told, low = [], best[0].chance_ends[0]
    if low is not None and low < design.require.chance:
        told.append(
            f"{design.number} draws do not prove the chance: it may be as low as {100 * low:.3g} %. More draws tell "
            "more."
        )
    if (fresh := found.fresh) is not None and fresh.chance is not None:
        kept = fresh.chance >= design.require.chance
        held = "holds" if kept else "does not hold"
        told.append(
            f"On {design.number} fresh draws, which had no part in choosing it, the lightest {held} the demand: "
            f"{100 * fresh.chance:.3g} %, and {100 * design.require.chance:g} % of them hold {fresh.reach_kN:.2f} kN."
            + ("" if kept else " Take a heavier one, or more draws.")
        )
    return told


def _counts(found: Found) -> list[str]:
    search = found.search
    left_out = [trial for trial in search.trials.values() if trial.problem]
    told = [
        f"{plural(len(found.verdicts), 'tube')} of {search.design.tubes} were pulled, {plural(found.pulls, 'pull')} in "
        "all; lighter ones come first, and each ends as soon as it cannot meet the demand."
    ]
    if not search.exact:
        told.append("A coarse grid was refined where it was close: a lighter tube between may have been missed.")
    if left_out:
        told.append(f"{plural(len(left_out), 'tube')} left out, as values do not go together: {left_out[0].problem}")
    if unsolved := sum(each.unsolved for each in found.verdicts):
        told.append(f"{plural(unsolved, 'pull')} not solved, counted as misses.")
    return told


def _lines(found: Found) -> list[str]:
    """The table as lines, for a file of text."""
    heads, rows = table_of(found)
    return [f"- {'; '.join(f'{head}: {cell}' for head, cell in zip(heads, row, strict=True))}" for row in rows]


def idle_line(design: Design, found: Found) -> str:
    """Keys that cannot move the peak in any situation, drawn or as the case states it."""
    from ..outcome.idle import idle_words

    best, number = answers(found), len(design.situations)
    if not best:
        return ""
    stated = replace(design, draws=None)
    return idle_words([each.case(best[0].candidate, (at, 0)) for each in (stated, design) for at in range(number)])
