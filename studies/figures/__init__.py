"""The pictures, drawn with matplotlib; `style` holds colours, the look, the small print, and `save`.

One case: `stress.stress_picture` (its parts: `failure`), `peak.load_displacement`, `tube.deformed_tube`,
`cone.cone_picture`. A study: `chain.chain_of_study`, `stress.sweep_figure`, `stress.stress_strip`, `peak.peaks_by_key`,
`cone.peaks_figure`; several series: `series`; a grid: `grid`, `tube_front`. The plane of the pull to scale: `section`.
"""
