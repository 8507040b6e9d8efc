"""Bytes and text to facts and back, one module a format; knows only the domain."""
