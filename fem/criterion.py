"""Onset: the load at which the ice first fails, by a length and not by a maximum.

Linear elasticity is singular or nearly so at the mouth of the hole and at the ends of contact; a raw maximum there
grows with refinement and means nothing. The theory of critical distances (Taylor 2007, *The Theory of Critical
Distances*, from memory) asks for the stress at a distance instead: here its *line method*, the stress averaged over a
line of length 2 L that starts at the hole's wall and runs radially into the ice,

    s(phi, s) = 1/(2 L) int_0^{2 L} sigma(r = radius + x) dx,      L = (K_IC / sigma_t)^2 / pi        [Pa, m]

for every place (phi, s) on the wall. The load factor t at which a place fails, from stresses at unit pull, is the less of

    tension      t = sigma_t / s_1                                  (largest principal stress of s)
    crushing     t = min(a_c / (q - b p), cap / q)                  (q von Mises stress, p mean pressure of s)

(q reaches min(a_c + b p, cap) under proportional loading), and the criterion index is 1/t. Onset is the least t over
the hole. It is the first visible damage, not the peak a pull test reports: what holds after it, redistribution and
stable crack growth, is the business of other models.

Limits: the line runs radially whatever way a crack would turn; a crust's own L is used where the line starts in the
crust; the hole's bottom touches nothing and is left out.
"""
