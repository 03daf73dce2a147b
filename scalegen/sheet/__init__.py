"""Room: scales onto blanks.

:func:`scalegen.sheet.rows.arrange` places them, :func:`scalegen.sheet.verify.verify` looks the result over.
The records in :mod:`scalegen.sheet.layout` need neither shapely nor the kernel.
"""
