"""Elastic bodies: equations solved, tube and ice in contact, stress recovered. No crack and no case is known here.

`assembly.assemble_stiffness` on hexahedra, `axisymmetric.make_body` for sections of revolution and plane strain,
`solver.make_solver` and `condensation.condense` for the equations, `contact.solve_contact` for tube on ice,
`stress.recover` for the stress.
"""
