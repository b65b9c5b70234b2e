"""Formulas as MathML, which browsers draw by themselves: no script, no fonts, no network."""

from docutils import nodes
from docutils.utils.math import latex2mathml
from sphinx.writers.html5 import HTML5Translator


def mathml(source: str, block: bool) -> str:
    """A formula in TeX as a ``<math>`` element; ``block`` where it stands in a line of its own.

    Raises
    ------
    docutils.utils.math.MathError
        Where the formula holds what MathML has no word for here.
    """
    tree = latex2mathml.tex2mathml(source, as_block=block)
    return str(tree)


def visit_inline(self: HTML5Translator, node: nodes.math) -> None:
    """Write a formula within a sentence."""
    self.body.append(mathml(node.astext(), block=False))
    raise nodes.SkipNode


def visit_block(self: HTML5Translator, node: nodes.math_block) -> None:
    """Write a formula that has a line of its own."""
    self.body.append(f'<div class="formula">{mathml(node.astext(), block=True)}</div>\n')
    raise nodes.SkipNode
