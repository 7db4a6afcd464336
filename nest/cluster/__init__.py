"""Work given to Dask workers: where they are, how they are reached safely, and the hides of one order on them."""
