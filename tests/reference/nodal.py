"""A netlist of R, L, C, V, K and H elements solved by modified nodal analysis, from its text alone.

Written for the tests and on purpose without anything of trivet in it. The method is that of Ho, Ruehli and Brennan,
"The modified nodal approach to network analysis", IEEE Trans. Circuits and Systems 22 (1975); the elements' lines are
those of Berkeley SPICE 3.
"""

from cmath import pi, sqrt

import numpy as np


def node_voltages(text: str) -> dict[str, complex]:
    """Phasors of all nodes at the frequency of the ``.ac lin 1`` line [V].

    Every L, V and H brings its current as an unknown of its own; K couples two of the L.
    """
    cards = [line.split() for line in text.splitlines()[1:] if line and line[0] not in "*."]  # the first is the title
    (analysis,) = (line.split() for line in text.splitlines() if line.startswith(".ac"))
    assert analysis[1:3] == ["lin", "1"]
    s = 2j * pi * float(analysis[3])
    nodes = sorted({node for card in cards if card[0][0] not in "K" for node in card[1:3]} - {"0"})
    branches = [card[0] for card in cards if card[0][0] in "LVH"]
    at = {name: i for i, name in enumerate((*nodes, *branches))}
    matrix, source = np.zeros((len(at), len(at)), complex), np.zeros(len(at), complex)

    def add(row: str, column: str, value: complex) -> None:
        if "0" not in (row, column):
            matrix[at[row], at[column]] += value

    inductances = {card[0]: float(card[3]) for card in cards if card[0][0] == "L"}
    for card in cards:
        name, first, second = card[:3]
        if name[0] in "RC":
            admittance = 1.0 / float(card[3]) if name[0] == "R" else s * float(card[3])
            for one, other in ((first, second), (second, first)):
                add(one, one, admittance)
                add(one, other, -admittance)
        elif name[0] in "LVH":
            for node, sign in ((first, 1.0), (second, -1.0)):
                add(node, name, sign)
                add(name, node, sign)
            if name[0] == "L":
                add(name, name, -s * inductances[name])
            elif name[0] == "H":
                add(name, card[3], -float(card[4]))
            elif "ac" in card:
                source[at[name]] = float(card[card.index("ac") + 1])
        elif name[0] == "K":
            mutual = float(card[3]) * sqrt(inductances[first] * inductances[second])
            add(first, second, -s * mutual)
            add(second, first, -s * mutual)
        else:
            raise ValueError(f"no such element: {' '.join(card)}")
    found = np.linalg.solve(matrix, source)
    return {node: complex(found[at[node]]) for node in nodes}
