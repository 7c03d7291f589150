"""A problem file that many tests change in one place: a tank, a bed that a siphon empties, and a sump."""

from __future__ import annotations


def one_bed(beds: str = "", sump: str = "400 L") -> str:
    """The file, with something added to the beds."""
    return f"""
name = "A bed with a siphon"
[tank]
volume = "500 L"
depth = "750 mm"
floor = "150 mm"
[beds]
count = 1
area = "1 m2"
floor = "550 mm"
{beds}
[sump]
volume = "{sump}"
depth = "500 mm"
floor = "-450 mm"
"""
