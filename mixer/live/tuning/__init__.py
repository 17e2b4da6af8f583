"""Values changed while the robot runs, with a way back and a file that keeps them."""
