"""Looks at recordings: the noise commands carried out by processes of their own, answers kept."""
