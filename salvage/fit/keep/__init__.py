"""Panels that keep something of the garment: cut round a pocket or a zip, or with a side on a finished hem."""
