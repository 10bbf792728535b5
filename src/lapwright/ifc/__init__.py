"""A second way in: outer walls, storeys, openings and units of an IFC model (ISO 16739) as a job file.

`model` reads the model with ifcopenshell (the extra `[ifc]`), `rings` finds the walk round the house, `house`
writes it down. What could not be read is listed, never guessed.
"""
