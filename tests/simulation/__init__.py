"""The bridge from roofs and weather to the balance."""
