"""Benchmarks: ratios within one run, variants interleaved, medians. Never part of the tests."""
