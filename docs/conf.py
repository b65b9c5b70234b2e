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

extensions = ["myst_parser", "sphinx.ext.autodoc", "sphinx.ext.napoleon", "docs.generate.extension"]
exclude_patterns = ["generate"]

myst_enable_extensions = ["colon_fence", "deflist", "dollarmath"]
myst_heading_anchors = 4

smartquotes = False  # quotation marks of examples are typed as they stand

autodoc_typehints_format = "short"
python_maximum_signature_line_length = 88
napoleon_google_docstring = False
napoleon_use_rtype = False
napoleon_use_ivar = True
# A docstring's types are prose, as "array" or "sequence of str": some are no names, some are names in two modules.
nitpick_ignore_regex = [("py:.*", ".*")]
suppress_warnings = ["ref.python"]

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
