"""What commands say of the board that runs the mix, and of the program on it."""
