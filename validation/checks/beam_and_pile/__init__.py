"""The tube as a beam and as a pile, against closed forms and hand formulas.

Cantilevers, a beam on springs, piles pulled along their axis and sideways, Broms' formulas.
`tube_beam` holds the beam of `fem.tube`; each file offers `CHECKS`.
"""
