"""Creekledger: the collecting record that starts in the creek and ends as the filed permit report."""

VERSION = "0.2.0"
