"""Trucks made of numbers that behave as real ones do, written apart from the tool so that it can be checked.

machine  what a truck really is, as arrays: any number of trucks at once
rest     where it stands: Newton on the gradient of its potential energy, four heights at a time
energy   the same by a general minimiser over every free body and slider, no series-spring formula at all
rigid    the same by a rigid-body engine, finite angles and all
trucks   random trucks as a fabricator would list them
shop     how a real one differs from its list, and what tape and scales say of it

Nothing here uses the tool's own arithmetic: of the tool it takes the plain data classes alone.
"""
