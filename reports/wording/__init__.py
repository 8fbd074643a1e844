"""Sentences about answers: the only place that makes them. Written for a toolmaker, not for a statistician.

A module a subject, a sentence for every code.
"""
