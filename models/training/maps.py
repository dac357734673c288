"""The maps that the network draws, in the order of its output channels.

A heat map rises to 1 at every point of its kind, both sides of the dog in one map (two peaks for a limb).
A trait map holds a probability that is read only where a heat map has a peak.
"""

HEAT = [
    "forePaw",
    "hindPaw",
    "carpus",
    "hock",
    "elbow",
    "stifle",
    "shoulder",
    "hip",
    "eye",
    "nose",
    "withers",
    "tailBase",
]
# For each of them, the same part at the dog's other end, which it is most easily taken for; itself where there is none.
OTHER_ENDS = [
    "hindPaw",
    "forePaw",
    "hock",
    "carpus",
    "stifle",
    "elbow",
    "hip",
    "shoulder",
    "eye",
    "nose",
    "tailBase",
    "withers",
]
TRAITS = ["contact", "far", "left", "dog"]
MAPS = HEAT + TRAITS

# How the label files name the points of each heat map: left first, then right.
LABELS = {
    "forePaw": ("left_front_paw", "right_front_paw"),
    "hindPaw": ("left_hind_paw", "right_hind_paw"),
    "carpus": ("left_carpus", "right_carpus"),
    "hock": ("left_hock", "right_hock"),
    "elbow": ("left_elbow", "right_elbow"),
    "stifle": ("left_stifle", "right_stifle"),
    "shoulder": ("left_shoulder", "right_shoulder"),
    "hip": ("left_hip", "right_hip"),
    "eye": ("left_eye", "right_eye"),
    "nose": ("nose",),
    "withers": ("withers",),
    "tailBase": ("tail_base",),
}

# The skeleton in the slots of the 17-point human pose that pose-detection expects; map and side of each.
SKELETON = [
    ("nose", None),
    ("eye", "left"),
    ("eye", "right"),
    ("withers", None),
    ("tailBase", None),
    ("shoulder", "left"),
    ("shoulder", "right"),
    ("elbow", "left"),
    ("elbow", "right"),
    ("forePaw", "left"),
    ("forePaw", "right"),
    ("hip", "left"),
    ("hip", "right"),
    ("stifle", "left"),
    ("stifle", "right"),
    ("hindPaw", "left"),
    ("hindPaw", "right"),
]

STRIDE = 4
