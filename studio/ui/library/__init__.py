"""The library: yarns with their shades, stitches, swatches."""
