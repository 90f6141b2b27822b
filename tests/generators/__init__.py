"""Seeded generators of lines for tests and benchmarks."""
