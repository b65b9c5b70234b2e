"""How Sphinx builds the documentation site: `make docs`. The site asks for nothing from the network."""

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from studies.versions import installed_version  # noqa: E402

project = "trivet"
author = "the trivet contributors"
project_copyright = "the trivet contributors, MIT licence"
release = version = installed_version("trivet")

extensions = ["myst_parser", "docs.generate.extension"]
exclude_patterns = ["generate"]

myst_enable_extensions = ["colon_fence", "deflist", "dollarmath"]
myst_heading_anchors = 4

html_theme = "furo"
html_title = "trivet"
html_theme_options = {
    "light_css_variables": {"color-brand-primary": "#8a3b12", "color-brand-content": "#8a3b12"},
    "dark_css_variables": {"color-brand-primary": "#f0a070", "color-brand-content": "#f0a070"},
}
html_static_path = ["static"]
html_css_files = ["site.css"]
html_copy_source = False
html_show_sourcelink = False
html_math_renderer = "mathml"
