"""The pictures, drawn with matplotlib; `style` holds colours, axes and the small print.

One case: `stress.stress_picture`, `peak.load_displacement`, `peak.deformed_tube`, `cone.cone_picture`. A study:
`stress.sweep_figure`, `peak.peaks_by_key`, `cone.peaks_figure`; several series: `series`; a grid: `grid`, `tube_front`.
"""
