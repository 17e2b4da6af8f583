"""What commands say of the board that runs the mix."""
