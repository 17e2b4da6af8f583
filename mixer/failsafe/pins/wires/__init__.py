"""The wires around a chip: edges played onto its inputs, what those carried, what its outputs showed."""
