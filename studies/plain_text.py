"""Text for files that take plain letters only."""

from unicodedata import normalize

_PLAIN = str.maketrans(
    {"\u00b5": "u", "\u03bc": "u", "\u03a9": "ohm", "\u2126": "ohm", "°": " deg", "±": "+/-", "−": "-", "–": "-",
     "—": "-", "×": "x", "’": "'", "“": '"', "”": '"', "δ": "delta", "√": "sqrt ", "·": "*", "²": "^2"}
)  # fmt: skip


def plain(text: str) -> str:
    """``text`` on one line of printable ASCII, whatever a name holds: nothing in it can become a line of its own."""
    spelled = normalize("NFKD", " ".join(text.split()).translate(_PLAIN))
    return "".join(sign if " " <= sign <= "~" else "" if ord(sign) in range(0x300, 0x370) else "?" for sign in spelled)
