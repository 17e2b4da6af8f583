"""What several commands share: their arguments, what they print, how they end."""
