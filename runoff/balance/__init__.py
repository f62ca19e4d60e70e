"""The numbers: stores, the time loop, routing, reservoirs. Plain arrays only, no labels and no files."""
