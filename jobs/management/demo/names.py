"""Invented customers and what they order. None of them is a real firm, person or place of work."""

STUDIO = "Cattail Bend Glass"
ADDRESS = "14 Foundry Lane\nTamarack Ferry, IL"

# Name, contact, town of the address.
CUSTOMERS = (
    ("St. Brannock's Parish", "Rev. Odile Hartnell", "Tamarack Ferry"),
    ("The Lanternfish Inn", "Maurice Abara", "Pike's Landing"),
    ("Fennimore & Daughters, builders", "Judith Fennimore", "Tamarack Ferry"),
    ("Halvorsen-Reyes residence", "Catalina Reyes", "Oxbow Hills"),
    ("Quillfeather Book House", "Thaddeus Moon", "Pike's Landing"),
    ("Tamarack Ferry Library Friends", "Noor Castellan", "Tamarack Ferry"),
    ("Dr. Winifred Osei", "Dr. Winifred Osei", "Lower Sedge"),
    ("Larkspur Street Synagogue", "Miriam Adelstein", "Grandin"),
    ("Bluestem Dental", "Rosa Wychowski", "Grandin"),
    ("Marchetti-Dunne residence", "Paul Dunne", "Oxbow Hills"),
    ("Old Granary Restaurant", "Benoit Laforge", "Lower Sedge"),
    ("Saltonstreet Architects", "Ayesha Rahmani", "Grandin"),
    ("Kestrel Ridge Chapel", "Deacon Amos Vail", "Kestrel Ridge"),
    ("The Misses Plumley", "Hester Plumley", "Tamarack Ferry"),
    ("Northwater Hospice", "Sister Benedetta Kroll", "Northwater"),
    ("Cobbler's Row Lofts", "Dmitri Salcedo", "Grandin"),
    ("Ngata family", "Hemi Ngata", "Oxbow Hills"),
    ("Heronsgate Community Pool", "Lucille Brandvold", "Northwater"),
    ("Tollgate Theater Trust", "Ferdinand Ochoa", "Grandin"),
    ("Weatherby Farm", "Eleanor Weatherby", "Lower Sedge"),
    ("Sixpenny Kitchens", "Graham Yoo", "Grandin"),
    ("Mossgrove Memorial", "Violet Sandoval", "Kestrel Ridge"),
)
# Pattern: titles of jobs that use it.
TITLES = {
    "diamond": ("Entry transom and lights", "Stair hall window", "Vestibule windows", "Dining room lights"),
    "lattice": ("Library casements", "Quarry lights, north wall", "Landing window", "Study windows"),
    "honeycomb": ("Breakfast room lights", "Honeycomb bay", "Garden door lights"),
    "meadow": ("Meadow windows", "Porch lights", "Long hall windows", "Sunroom lights"),
    "pinwheels": ("Pantry doors", "Pinwheel cabinet lights", "Nursery window"),
    "sidelight": ("Front door sidelights", "Sidelights, both sides", "Vestry door sidelights"),
    "lite": ("Beveled door lites", "Cabinet lites", "Beveled mirrors for the bar"),
    "fan": ("Fan light over the door", "Arched transom"),
    "rose": ("Gable rosette", "Round-in-square window", "Chancel rosette"),
    "river": ("River windows", "Stair window, river bend", "Bath window"),
    "leaves": ("Leaf panels", "Conservatory lights", "Willow window"),
    "sunrise": ("East window", "Sunrise transom", "Kitchen window"),
    "reeds": ("Carved reed screen", "Room divider, reeds", "Shower screen, reeds"),
    "heron": ("Carved heron", "Heron door", "Entrance screen"),
}
ROOMS = (
    "North",
    "East",
    "South",
    "West",
    "Left",
    "Right",
    "Upper",
    "Lower",
    "Middle",
    "Small",
    "Tall",
    "Outer",
)
RACKS = ("Rack A1", "Rack A2", "Rack A3", "Rack B1", "Rack B2", "Rack B3", "Cradle 1", "Cradle 2")
LATE_REASONS = (
    "the glass came two weeks late",
    "two bevels broke at the wheel and were made again",
    "the drawing was approved late",
    "illness at the wheels",
    "the opening was measured again and the panel made smaller",
)
TAPPED_NOTES = (
    "wheel dressed",
    "new felt",
    "color match checked with the office",
    "blade changed twice",
    "template corrected",
)

# The jobs that the demo is told by: their title, and what happened to them.
STORIES = {
    "late": ("Chancel windows", "is late: its second date has passed"),
    "held": ("Rosette for the east gable", "is held: the customer has to approve a color"),
    "broken": ("Stair transom, sunrise", "had a piece crack while it was leaded"),
    "rush": ("Bar front lights, reopening", "is a rush and passes everybody"),
    "lamination": ("Laminated reed screen", "is out at the supplier's for lamination"),
    "carved": ("Carved heron screen", "has a heron in the blast cabinet, for weeks"),
    "sidelights": ("Sidelights for the lofts, eight alike", "go over the wheels together"),
}
