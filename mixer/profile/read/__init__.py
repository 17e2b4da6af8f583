"""From the text of a profile to its values, with the line each stands on."""
