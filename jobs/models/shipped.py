"""The names that every new studio is given (fixtures/trade.json), in the language that is spoken.

They are rows, which a studio may rename: so a name is looked up as it stands, among the shipped ones alone. One that
the studio has written itself is not there, and stays as it is.
"""

import re

from django.utils.translation import get_language, gettext, ngettext, pgettext, pgettext_lazy

# How work is named that is made again (actions/breakages.py), and another part of it (actions/operations.py).
AGAIN = re.compile(r"(?P<work>.+) again, (?P<number>\d+) pieces?")
PART = re.compile(r"(?P<work>.+), part (?P<number>\d+)")


def named(thing: object) -> str:
    """A station, a work, its kind, a step, a glass, or what is to be minded, by its name as it is said here."""
    name = str(thing)
    # Rows are kept in English, so most pages have nothing to look up.
    if get_language() in (None, "en"):
        return name
    if again := AGAIN.fullmatch(name):
        number = int(again["number"])
        words = ngettext("%(work)s again, %(number)d piece", "%(work)s again, %(number)d pieces", number)
        return words % {"work": named(again["work"]), "number": number}
    if part := PART.fullmatch(name):
        return gettext("%(work)s, part %(number)s") % {"work": named(part["work"]), "number": part["number"]}
    # An empty text is the head of the catalog.
    return pgettext("shipped", name) if name else name


SHIPPED = (
    # Stations.
    pgettext_lazy("shipped", "Drawing"),
    pgettext_lazy("shipped", "Cutting"),
    pgettext_lazy("shipped", "Beveling"),
    pgettext_lazy("shipped", "Stencil"),
    pgettext_lazy("shipped", "Blasting"),
    pgettext_lazy("shipped", "Assembly"),
    pgettext_lazy("shipped", "Cementing"),
    pgettext_lazy("shipped", "Packing"),
    pgettext_lazy("shipped", "Delivery"),
    # Kinds of work that are named otherwise than a station.
    pgettext_lazy("shipped", "Pattern"),
    pgettext_lazy("shipped", "Transfer and resist"),
    pgettext_lazy("shipped", "Tempering"),
    pgettext_lazy("shipped", "Lamination"),
    pgettext_lazy("shipped", "Soldering"),
    pgettext_lazy("shipped", "Cement cure"),
    pgettext_lazy("shipped", "Cleaning"),
    pgettext_lazy("shipped", "Insulating unit"),
    pgettext_lazy("shipped", "Installation"),
    # Steps of the routes that have a name of their own.
    pgettext_lazy("shipped", "Cutting, center"),
    pgettext_lazy("shipped", "Cutting, border"),
    pgettext_lazy("shipped", "Beveling, center"),
    pgettext_lazy("shipped", "Beveling, border"),
    pgettext_lazy("shipped", "Cutting and edging"),
    pgettext_lazy("shipped", "Stripping and cleaning"),
    # The wheels.
    pgettext_lazy("shipped", "roughing"),
    pgettext_lazy("shipped", "smoothing"),
    pgettext_lazy("shipped", "fine grinding"),
    pgettext_lazy("shipped", "cork"),
    pgettext_lazy("shipped", "felt"),
    # What is to be minded.
    pgettext_lazy(
        "shipped",
        "Measure the opening, not the drawing. Doors, panes beside doors, baths and large low panes "
        "may have to be safety glazing (16 CFR 1201, ANSI Z97.1): confirm with the local building "
        "official before it leaves.",
    ),
    pgettext_lazy(
        "shipped",
        "Gloves and eye protection at every edge. Lift large lites with two people or with cups; "
        "carry them on edge.",
    ),
    pgettext_lazy(
        "shipped",
        "Eye protection. Keep every wheel wet: dry grinding puts glass dust in the air. No loose "
        "sleeves, long hair tied back. Follow your local rules.",
    ),
    pgettext_lazy("shipped", "Cover the back and the edges as well. Change the blade before it slips."),
    pgettext_lazy(
        "shipped",
        "Never silica sand: aluminum oxide or silicon carbide only. Cabinet closed, exhaust on, "
        "hearing protection, supplied air where the rule asks for it. Abrasive blasting: 29 CFR "
        "1910.94; crystalline silica: 29 CFR 1910.1053. Follow your local rules.",
    ),
    pgettext_lazy(
        "shipped",
        "Blast before tempering, never after: tempered glass bursts when its surface is cut. Doors, "
        "panes beside doors, baths and large low panes may have to be safety glazing (16 CFR 1201, "
        "ANSI Z97.1): confirm with the local building official before it leaves.",
    ),
    pgettext_lazy(
        "shipped",
        "Carved faces clean and dry before they go out; say which face is to be inside. Doors, panes "
        "beside doors, baths and large low panes may have to be safety glazing (16 CFR 1201, ANSI "
        "Z97.1): confirm with the local building official before it leaves.",
    ),
    pgettext_lazy(
        "shipped",
        "Lead: wash hands and face before you eat, drink or smoke; no food at this bench; keep the "
        "dust wet. Lead in air at work: 29 CFR 1910.1025 in the United States. Follow your local "
        "rules. Came ends and glass edges are sharp.",
    ),
    pgettext_lazy(
        "shipped",
        "Hot iron, molten solder and flux fumes: exhaust on, eye protection, nothing that burns "
        "beside the iron. Lead: wash hands and face before you eat, drink or smoke; no food at this "
        "bench; keep the dust wet. Lead in air at work: 29 CFR 1910.1025 in the United States. Follow "
        "your local rules.",
    ),
    pgettext_lazy(
        "shipped",
        "Gloves. Whiting is dust: mask on. Oily rags can set themselves alight: into the closed metal "
        "can. Lead: wash hands and face before you eat, drink or smoke; no food at this bench; keep "
        "the dust wet. Lead in air at work: 29 CFR 1910.1025 in the United States. Follow your local "
        "rules.",
    ),
    pgettext_lazy("shipped", "Rests flat; do not stand it up, do not stack on it."),
    pgettext_lazy(
        "shipped",
        "Support a panel along its whole edge when you turn it. Lead: wash hands and face before you "
        "eat, drink or smoke; no food at this bench; keep the dust wet. Lead in air at work: 29 CFR "
        "1910.1025 in the United States. Follow your local rules.",
    ),
    pgettext_lazy(
        "shipped",
        "Keep a finger's width of clear glass at the edge for the seal. Doors, panes beside doors, "
        "baths and large low panes may have to be safety glazing (16 CFR 1201, ANSI Z97.1): confirm "
        "with the local building official before it leaves.",
    ),
    pgettext_lazy(
        "shipped",
        "Crate near upright, foam-lined. Weigh it: the recommended limit of DHHS (NIOSH) 94-110 is 51 "
        "lb (23 kg) for a good two-handed lift, and glass is seldom that.",
    ),
    pgettext_lazy(
        "shipped",
        "Strap the crate near upright. Two people for anything heavy. Doors, panes beside doors, "
        "baths and large low panes may have to be safety glazing (16 CFR 1201, ANSI Z97.1): confirm "
        "with the local building official before it leaves.",
    ),
    pgettext_lazy(
        "shipped",
        "Two people. Ladder or scaffold by the local rule. Lead work on a site is construction: 29 "
        "CFR 1926.62. Old paint may hold lead. Doors, panes beside doors, baths and large low panes "
        "may have to be safety glazing (16 CFR 1201, ANSI Z97.1): confirm with the local building "
        "official before it leaves.",
    ),
    # Glass.
    pgettext_lazy("shipped", "Clear plate, 1/4 in"),
    pgettext_lazy("shipped", "Clear, 1/8 in"),
    pgettext_lazy("shipped", "Textured clear, 1/8 in"),
    pgettext_lazy("shipped", "Amber, 1/8 in"),
    pgettext_lazy("shipped", "Blue, 1/8 in"),
    pgettext_lazy("shipped", "Green, 1/8 in"),
    pgettext_lazy("shipped", "Red, 1/8 in"),
    pgettext_lazy("shipped", "Clear plate, 3/8 in"),
    pgettext_lazy("shipped", "Clear plate, 1/2 in"),
    pgettext_lazy("shipped", "Seedy clear, 1/8 in"),
    pgettext_lazy("shipped", "Opal white, 1/8 in"),
)
