"""The look sheet: a moment of the light as a page, as Markdown, as a table, as JSON."""
