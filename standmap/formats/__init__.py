"""One module a format, behind one door: `standmap.formats.door` tells a file by its content."""
