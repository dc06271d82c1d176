"""What letters say until the studio says it in its own words. Advice here is common practice, no published source.

Lists have a point a line.
"""

INCLUDED = """\
Drawing and full-size pattern of each panel, with one round of changes before glass is cut
Glass, came and other materials as listed
The work in our own workshop, cleaning and a last inspection"""

NOT_INCLUDED = """\
Scaffolding, lifting gear, permits and closing of roads
Mending or painting of frames, plaster and walls
Safety glazing, tempering and laminating, unless listed
Changes to a drawing after it has been approved"""

TERMS = """\
We begin when the drawing is approved in writing and the deposit is paid; a later day of either moves the date.
The balance is due before the work leaves our workshop.
Hand-made glass varies in color, thickness and texture: samples show its range, not each sheet.
The approved drawing holds for sizes, lines and colors."""

# The places and the rules: 16 CFR 1201; ANSI Z97.1; IBC 2406; IRC R308.4. Which of them holds is local.
SAFETY = """\
Some places in a building need safety glazing: doors, panes beside doors, baths and showers, stairs, large panes \
near the floor. Leaded, beveled and carved panels may not count as safety glazing, and the exceptions for \
decorative glass have conditions.
Whether a panel may go where it is meant to go is for the local building official to say. Rules that are often \
asked about are 16 CFR 1201, ANSI Z97.1 and, in the United States, IBC 2406 or IRC R308.4.
Please ask before you approve the drawing. Nothing in this paper declares that the work complies with any of them."""

HANDLING = """\
Carry each panel upright on its edge, with both hands; never flat, for it bends under its own weight.
Never lift by the came, by a bar or by a raised piece.
Set it down on padding, leaning a little; never lay panels on each other.
Cut-resistant gloves, eye protection and closed shoes.
Came and solder contain lead: wash hands before you eat, drink or smoke."""

BRING = """\
Suction cups or carrying straps, blankets and timber for setting down
Setting blocks and spacers
Tape measure, level, square
Sealant, tape and tools for glazing
Gloves, eye protection, vacuum cleaner with a fine filter, wipes
This sheet and the drawings that were approved"""

SEALANTS = """\
Sealant of neutral cure that its maker allows on lead, or glazing tape; none that smells of vinegar, which eats lead.
Let it cure as long as its maker says before the panel is moved or washed."""

SITE_CAUTIONS = """\
Two people at every opening, and nobody below.
No dry sanding and no sweeping where there is lead or old paint; wipe or vacuum.
Work with lead on a building site has rules of its own (in the United States 29 CFR 1926.62): ask which hold here."""

CHECKS = """\
Opening measured again before the old glass is out: width, height, both diagonals
Opening sound, dry, clean and square
Panel on its blocks, nowhere touching the frame
Bars and ties fastened to the frame
Sealant whole all round; way out for water open
Glass, came and solder looked over with the customer
Photos taken"""

CARE = """\
Dust with a soft dry cloth. For more, a soft cloth hardly damp with clean water and a drop of mild dish soap; dry it.
No ammonia, vinegar, scouring powder, wire wool or stickers, and no spray straight onto the panel.
Do not press or lean on it; have ladders, blinds and branches keep their distance.
Some whiting may come off along the came in the first weeks. Brush it off with a dry soft brush.
Came and solder darken with time. That is natural and does no harm.
They contain lead: wash hands after touching them, and keep small children from touching them.
Look at it once a year. Call us where it bows, rattles or lets water in, or where glass is cracked or solder broken."""
