"""Pictures of an instrument as plain geometry: the air path with its stations, and notes on a staff.

Nothing here knows HTML or color; ``inventory/templatetags/picture.py`` turns it into SVG.
"""
