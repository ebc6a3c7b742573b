"""Sound files of every kind, opened for reading in pieces; what is odd about them is told."""
