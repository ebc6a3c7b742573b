"""Recordings of noise: whether they are fit for measuring, and what is in them."""
