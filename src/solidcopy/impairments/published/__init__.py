"""Tables of published documents: one data file for each edition, with its source."""
