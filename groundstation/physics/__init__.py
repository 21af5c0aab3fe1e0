"""Numbers: atmosphere, geodesy, wind, fall and ensemble, in numpy and without I/O."""
