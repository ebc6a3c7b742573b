"""A recorded noise in numbers: how loud it is beside its own floor, and its fitted twin."""
