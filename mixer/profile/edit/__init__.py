"""Changes of a profile that keep its comments and its layout."""
