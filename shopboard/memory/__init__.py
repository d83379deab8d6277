"""What closed jobs teach."""
