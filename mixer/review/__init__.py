"""What recorded drives say of a robot and of whoever drove it, on the measures of the floors below."""
