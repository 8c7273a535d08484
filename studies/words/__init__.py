"""The words under results, chosen by the numbers of the outcomes.

`answer` says one case in a line. `onset.explain`, `cone.explain_cones` and `peak.explain_peaks` tell a study, with
`ice` for what the ice does. `materials.pages` lists ices and metals with their sources.
"""
