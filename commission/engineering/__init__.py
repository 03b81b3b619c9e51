"""Engineering of rooftop units: pure functions, floats in and floats out."""
