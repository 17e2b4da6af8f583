"""What a compiled image can take at most: its instructions read from the ELF, and run on intervals."""
