"""The graph as C99: for the board, and with its test vectors."""
