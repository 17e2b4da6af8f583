"""What the panels share: state, commands, layout, held keys, and what they may ask of their screen."""
