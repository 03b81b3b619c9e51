"""Vector figures as plain shapes, drawn once; the window and the package each render them."""
