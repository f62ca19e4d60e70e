"""The numbers: stores, the time loop, routing. Plain arrays only, no labels and no files."""
