"""Whether the equations are the right ones: hand formulas, checks against published sources, field tables."""
