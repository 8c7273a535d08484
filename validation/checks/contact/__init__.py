"""Contact without friction, against closed forms and its own conditions.

Hertz' parabola, a pin in a plate, and the conditions of contact in the half model (`complementarity`).
Each file offers `CHECKS`.
"""
