"""The LDPC(174,91) code and its CRC, which several modes use."""
