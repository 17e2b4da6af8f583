"""The complete, buildable project of one robot on one board."""
