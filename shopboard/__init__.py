"""One board for the whole repair job of a hydrostatic ground-care machine shop."""
