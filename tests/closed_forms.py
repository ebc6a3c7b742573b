"""Symbol error rates of plain non-coherent orthogonal 8-FSK, from closed forms.

Sources: FACTS E1 (textbook; derivation found in "Computing the symbol error rate of m-FSK",
12/2021) and E3 (textbook, from memory; confirmed there by simulation).
"""

WHITE_NOISE = [
    (0, 0.66567),
    (3, 0.48498),
    (5, 0.32105),
    (6, 0.23551),
    (8, 0.09130),
    (10, 0.017837),
    (12, 0.001129),
]
"""Es/N0 in dB, rate."""

TONE_JAMMER = [(10, 0, 0.03047), (10, 5, 0.09480), (10, 10, 0.50061), (6, 3, 0.37080)]
"""Es/N0 and jammer Ej/N0 in dB, rate; the jammer sits on a tone that is not sent."""
