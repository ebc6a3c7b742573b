"""A noise measurement on two pages, for a neighbour, a club or an authority."""
