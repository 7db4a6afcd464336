"""Material for an order before anything is placed: lattices, an edge model, and the share of unfit ground."""
