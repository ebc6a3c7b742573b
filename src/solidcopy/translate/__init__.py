"""From decibels to watts, antennas, noise surroundings, chances and repeats. Pure functions."""
