"""Methods over many results: what was measured, its trends with their breaks, as text and as a page."""
