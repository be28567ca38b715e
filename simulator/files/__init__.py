"""The files room: reading and writing safely. Knows no cycling."""
