"""Printed matter: Typst templates and what fills them."""
