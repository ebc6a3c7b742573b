"""What kinds of source the parts of a noise hint at, from a file of sourced knowledge."""
