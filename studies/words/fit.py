"""What a fit to a day of pulls says in words: the inputs, what the table cannot tell, whether it predicts better."""

from __future__ import annotations

from ..case.keys import KEYS
from ..case.words import short_name
from ..command.numbers import fixed, percent, plural, short
from ..field.fit import Fit, Input

WIDE = 0.9  # width over the prior's: from here on the table says nothing
ALIKE = 0.9  # correlation from which two inputs cannot be told apart
COARSE = 0.1  # error of the emulator from which a row is named [-]
NOTHING = 0.1  # gain of a row's log score that counts for none [-]


def fit_words(fit: Fit) -> list[str]:
    """Sentences on a fit: values in the units of their keys, scatter as a share of the load [-]."""
    told = [_input(each) for each in fit.inputs]
    for first in range(len(fit.inputs)):
        for second in range(first):
            rho = float(fit.correlation[first, second])
            if abs(rho) > ALIKE:
                names = f"{short_name(fit.inputs[second].key)} and {short_name(fit.inputs[first].key)}"
                together = "one can rise for the other to rise" if rho > 0 else "one can rise for the other to fall"
                told.append(f"{_upper(names)} cannot be told apart (correlation {fixed(rho, 2)}): {together}.")
    low, middle, high = (percent(fit.scatter[at], 0) for at in (0, len(fit.scatter) // 2, -1))
    told.append(f"Replicates scatter by {middle} ({low} to {high}; levels of an assumed prior).")
    told.append(_gain(fit))
    coarse = [row.row.id for row, error in zip(fit.rows, fit.emulator_error, strict=True) if error > COARSE]
    if coarse:
        rows = f"{plural(len(coarse), 'row')} ({', '.join(coarse)})"
        told.append(f"Between the points of the design the peak jumps at {rows}: these rows count for less.")
    if fit.model_error == 0:
        told.append("The model is trusted: no scatter between placements besides; the values come out too sure.")
    return told


def _input(each: Input) -> str:
    unit = KEYS[each.key].unit if each.key in KEYS else ""
    low, middle, high = (short(each.after[at]) for at in (0, len(each.after) // 2, -1))
    before = f"{short(each.before[0])} to {short(each.before[-1])}"
    value = f"{middle}{f' {unit}' if unit else ''} (nine tenths: {low} to {high}; before {before})"
    name = _upper(short_name(each.key))
    if each.width > WIDE:
        return f"{name}: the table says nothing of it: {value}."
    return f"{name}: {value}."


def _gain(fit: Fit) -> str:
    gain = fit.gain
    score = f"{fixed(gain, 2)} nats a row"
    if gain > NOTHING:
        return f"A row left out is predicted better by the others than before the fit ({score})."
    if gain < -NOTHING:
        return f"A row left out is predicted worse by the others than before the fit ({score}): do not use the fit."
    return f"A row left out is predicted no better by the others than before the fit ({score})."


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]
