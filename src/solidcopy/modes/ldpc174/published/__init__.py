"""Tables of the published protocol, as readable text with their sources."""
