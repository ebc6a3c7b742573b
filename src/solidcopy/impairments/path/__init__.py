"""What happens to the wanted signal between the sender and the receiver, in the plan's order."""
