"""Files that the page carries: Leaflet as published, and our own script and style."""
