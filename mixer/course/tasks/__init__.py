"""What is to be driven: geometry on the floor, sized for one robot."""
