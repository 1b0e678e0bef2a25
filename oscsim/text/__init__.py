"""Text as parts: what a page of an answer is made of, before it is a terminal's or a notebook's."""
