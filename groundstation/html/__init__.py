"""HTML for people: made by templates that escape, and printed as PDF."""
