"""Benchmarks: each number that we publish can be measured again."""
