"""Features of a recorded noise, each with its uncertainty: level, floor, lines, humps, rhythm.

The door is `measure.measure_features`; what it returns is described in the file of each part.
"""
