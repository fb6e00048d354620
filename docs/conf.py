"""How the documentation is built: plain Markdown, nothing fetched from elsewhere."""

from importlib import metadata

project = "gaugewright"
release = metadata.version("gaugewright")
extensions = ["myst_parser"]
html_theme = "furo"
html_title = f"gaugewright {release}"
html_copy_source = False
html_show_sphinx = False
myst_enable_extensions = ["colon_fence", "deflist"]
myst_heading_anchors = 3
nitpicky = True
exclude_patterns = ["_build"]
