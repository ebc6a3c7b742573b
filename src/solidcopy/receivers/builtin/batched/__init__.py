"""The built-in receiver's array work for many slots at once, on an accelerator.

Every function takes the array namespace as `xp`: `cupy`, or `numpy` to compare it with the compiled
loops where there is no accelerator. What is decided, and with which numbers, stays where it is.
"""
