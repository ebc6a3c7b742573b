"""A recording as a sum of parts: floor, lines, combs, humps, impulses, signals and the rest.

The door is `listing.list_parts`.
"""
