"""The documentation site: pages, how they are built, and what is made from the code."""
