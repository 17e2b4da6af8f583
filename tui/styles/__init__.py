"""Colours: two themes, their coarse twins for 256 colours, and style names resolved to them."""
