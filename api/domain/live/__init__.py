"""A season judged as it grows: each stored change re-judges what it touches, and no more.

The whole judge (``judge.py``) stays the measure: after any changes in any order the findings are the same.
"""
