"""Two tunings compared: in which order they are driven, how often, and what can be told of them."""
