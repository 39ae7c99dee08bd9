"""The year strip: the stand's seasons in a row, past to future."""
