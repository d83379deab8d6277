"""What a repair costs: labour with covers counted once, and money."""
