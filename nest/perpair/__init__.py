"""What one pair takes of leather and of a roll before anything is placed: lattices, an edge model, unfit ground."""
