"""What the bench in a browser is served with: the page, and the server that answers only that page."""
