"""From decibels to decisions: one file for each question a person may ask."""
