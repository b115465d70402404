"""How wide a line of text will be, so that labels can be kept apart without a browser.

Advance widths of Atkinson Hyperlegible Next (static/fonts), regular and bold, in thousandths of the type
size, for the characters from space to tilde; a test reads the font files and compares.
"""

# fmt: off
_REGULAR = (
    280, 286, 301, 651, 592, 919, 731, 160, 299, 299, 485, 606, 210, 362, 210, 387, 648, 407, 548,
    576, 614, 588, 598, 510, 615, 595, 210, 210, 553, 628, 553, 480, 778, 626, 613, 645, 669, 569,
    552, 694, 694, 392, 512, 631, 541, 824, 693, 714, 592, 724, 614, 592, 558, 690, 593, 856, 623,
    575, 607, 317, 387, 344, 552, 372, 243, 525, 566, 485, 564, 538, 314, 558, 550, 252, 245, 492,
    262, 845, 550, 548, 566, 574, 349, 471, 326, 540, 461, 684, 481, 449, 460, 344, 237, 344, 555,
)
_BOLD = (
    312, 303, 390, 765, 610, 969, 725, 210, 335, 335, 485, 595, 271, 373, 272, 440, 659, 440, 579,
    600, 624, 607, 626, 537, 624, 571, 272, 272, 569, 612, 569, 547, 781, 678, 643, 658, 688, 597,
    566, 718, 701, 424, 561, 663, 552, 858, 717, 746, 629, 756, 650, 610, 607, 686, 644, 886, 685,
    650, 618, 340, 440, 344, 582, 400, 288, 552, 596, 510, 596, 563, 365, 593, 571, 300, 259, 555,
    318, 882, 571, 576, 596, 599, 376, 508, 376, 567, 530, 740, 539, 521, 505, 381, 254, 381, 537,
)
# fmt: on
_OTHER = {"°": 380, "·": 280, "−": 606, "–": 504, "—": 832, "…": 780}
_UNKNOWN = 700  # wider than nearly every other letter: a label may get too much room, never too little


def text_width(text: str, size: float, weight: int = 400) -> float:
    """Return the width of one line in the drawing's units, for a type size in the same units."""
    table = _BOLD if weight >= 600 else _REGULAR
    total = 0
    for character in text:
        place = ord(character) - 32
        total += table[place] if 0 <= place < len(table) else _OTHER.get(character, _UNKNOWN)
    return total * size / 1000


def shortened(text: str, size: float, room: float, weight: int = 400) -> str:
    """Return the text, cut with an ellipsis where it is wider than the room."""
    if text_width(text, size, weight) <= room:
        return text
    while text and text_width(text.rstrip() + "…", size, weight) > room:
        text = text[:-1]
    return text.rstrip() + "…"


def in_lines(text: str, size: float, room: float, most: int, weight: int = 400) -> list[str]:
    """Return the text broken at spaces into at most ``most`` lines, the last one cut where it does not fit."""
    lines: list[str] = []
    for word in text.split():
        if lines and (len(lines) >= most or text_width(f"{lines[-1]} {word}", size, weight) <= room):
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return [shortened(one, size, room, weight) for one in lines]
