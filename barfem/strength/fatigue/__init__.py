"""Stress-life: strength of a place, harm of a cycle, life with its scatter.

Nothing is imported here: the table of criteria (`criteria`) is read by the commands' help, which must not wait for
numpy.
"""
