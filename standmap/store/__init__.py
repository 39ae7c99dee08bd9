"""One stand is one GeoPackage file. The only room that knows SQL."""
