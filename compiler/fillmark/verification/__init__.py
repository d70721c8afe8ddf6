"""The verification log: read, judged, told, and made a page."""
