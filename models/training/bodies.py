"""Four-legged bodies at a moment of their gait: rounded cones to draw and points to learn.

Lengths are in units of about the height at the withers; x points where the dog walks, y to its left, z up.
Everything is drawn for a whole batch at once.
"""

import math
from dataclasses import dataclass, field

import torch
import torch.nn.functional as F

TORSO, HEAD, MUZZLE, EAR_TAIL, LIMB, FOOT = range(6)


@dataclass
class Bodies:
    """n bodies of p rounded cones, from `a` (radius `ra`) to `b` (radius `rb`)."""

    a: list = field(default_factory=list)
    b: list = field(default_factory=list)
    ra: list = field(default_factory=list)
    rb: list = field(default_factory=list)
    part: list = field(default_factory=list)
    # Map name → points [n, 1 or 2, 3]; for pairs the left one first.
    points: dict = field(default_factory=dict)
    # Paw map → on the ground [n, 2], 0 or 1.
    contact: dict = field(default_factory=dict)
    # Paw map → the middle of the pad, at its underside [n, 2, 3].
    soles: dict = field(default_factory=dict)
    # How far a paw reaches to its side where it meets the ground.
    half_width: torch.Tensor = None
    length: torch.Tensor = None
    leg: torch.Tensor = None

    def add(self, a, b, ra, rb, part):
        n = a.shape[0]
        as_row = lambda r: r if torch.is_tensor(r) else torch.full((n,), r, device=a.device)  # noqa: E731
        self.a.append(a)
        self.b.append(b)
        self.ra.append(as_row(ra))
        self.rb.append(as_row(rb))
        self.part.append(part)

    def stacked(self):
        stack = lambda parts: torch.stack(parts, 1)  # noqa: E731
        part = torch.tensor(self.part, device=self.a[0].device)
        return stack(self.a), stack(self.b), stack(self.ra), stack(self.rb), part


class Dice:
    """Random numbers for a batch of n on a device."""

    def __init__(self, n, device):
        self.n, self.device = n, device

    def between(self, low, high):
        return torch.rand(self.n, device=self.device) * (high - low) + low

    def normal(self, spread):
        return torch.randn(self.n, device=self.device) * spread

    def chance(self, p):
        return (torch.rand(self.n, device=self.device) < p).float()

    def pick(self, count):
        return torch.randint(0, count, (self.n,), device=self.device)


def knee(hip, foot, upper, lower, forward):
    """Middle joint of a two-bone limb in its own x-z plane; forward +1 bends to +x. Returns it and the reached foot."""
    d = foot - hip
    dx, dz = d[..., 0], d[..., 2]
    reach = torch.sqrt(dx * dx + dz * dz + 1e-9)
    span = torch.minimum(reach, (upper + lower) * 0.995)
    span = torch.maximum(span, (upper - lower).abs() * 1.02 + 1e-4)
    along = (upper * upper - lower * lower + span * span) / (2 * span)
    out = torch.sqrt((upper * upper - along * along).clamp_min(1e-8))
    ux, uz = dx / reach, dz / reach
    px, pz = -uz, ux
    sign = torch.where(px * forward >= 0, 1.0, -1.0)
    share = upper / (upper + lower)
    middle = torch.stack(
        [hip[..., 0] + ux * along + px * out * sign, hip[..., 1] + d[..., 1] * share, hip[..., 2] + uz * along + pz * out * sign],
        -1,
    )
    reached = torch.stack([hip[..., 0] + ux * span, foot[..., 1], hip[..., 2] + uz * span], -1)
    return middle, reached


# Of the bodies, how many move as a recorded dog did, when there is a recording.
RECORDED_SHARE = 0.4
# The recorded paw joint lies this far ahead of the upright pastern that is drawn, radians.
PASTERN_LEAN = 0.3


# A paw is sunk so deep into the ground that it rests on this share of its radius.
RESTS_ON = 0.7


def make_bodies(n, device, recorded=None, toes=False):
    """n random bodies, dachshund to greyhound, walking, trotting, pacing, bounding or standing.

    recorded: a `recorded.Recorded`, whose frames some of them take their limbs' places and angles from.
    toes: with toes on the paws, for pictures from near by.
    """
    dice = Dice(n, device)
    u = dice.between
    body = Bodies()

    def at(x, y, z):
        columns = [c if torch.is_tensor(c) else torch.full((n,), float(c), device=device) for c in (x, y, z)]
        return torch.stack(columns, -1)

    short = dice.chance(0.25)
    mix = lambda tall, low: tall * (1 - short) + low * short  # noqa: E731
    leg = mix(u(0.5, 0.66), u(0.28, 0.48))
    length = mix(u(0.72, 1.08), u(1.0, 1.5))
    girth = u(0.15, 0.25) + short * 0.03
    coat = dice.chance(0.3) * u(0.0, 0.06)
    thick = u(0.7, 1.4)
    hip_z, withers_z = u(0.86, 1.02), 0.97
    fore_x, hind_x = length / 2, -length / 2
    half_track = u(0.05, 0.12)
    bend = torch.randn(n, device=device) * 0.06

    shoulder_z = withers_z - girth * u(0.75, 0.95)
    rump_z = hip_z - girth * u(0.75, 0.95)
    belly = u(0.55, 0.98)
    chest, rump = at(fore_x, 0, shoulder_z - girth * 0.25), at(hind_x, 0, rump_z)
    middle = at(0, bend, (shoulder_z + rump_z) / 2 - girth * u(-0.15, 0.25) + u(-0.02, 0.04))
    body.add(chest, middle, girth * 1.05 + coat, girth * belly * 0.95 + coat, TORSO)
    body.add(middle, rump, girth * belly * 0.95 + coat, girth * u(0.8, 0.95) + coat, TORSO)
    body.add(
        at(fore_x, 0, shoulder_z + girth * 0.3), at(hind_x, 0, rump_z + girth * 0.35), girth * 0.55, girth * 0.5, TORSO
    )

    neck_tilt, neck_length = u(-0.7, 1.2), u(0.25, 0.5)
    neck = at(fore_x + girth * 0.3, 0, shoulder_z + girth * 0.3)
    turn = u(-0.12, 0.12)
    nape = neck + at(neck_length * torch.cos(neck_tilt), turn, neck_length * torch.sin(neck_tilt))
    neck_r = girth * u(0.45, 0.7)
    body.add(neck, nape, neck_r * 1.15 + coat, neck_r * 0.85 + coat, HEAD)
    head_tilt = neck_tilt - u(0.3, 1.3)
    head_r, muzzle = girth * u(0.42, 0.65), u(0.06, 0.3)
    look = F.normalize(at(torch.cos(head_tilt), u(-0.35, 0.35), torch.sin(head_tilt)), dim=-1)
    aside = F.normalize(torch.cross(at(0, 0, 1), look, dim=-1), dim=-1)
    above = torch.cross(look, aside, dim=-1)
    skull = nape + look * head_r[:, None] * 0.5
    nose = skull + look * (head_r + muzzle)[:, None]
    body.add(skull, skull + look * head_r[:, None] * 0.3, head_r, head_r * 0.9, HEAD)
    body.add(skull + look * head_r[:, None] * 0.4, nose, head_r * 0.55, head_r * u(0.22, 0.4), MUZZLE)
    ear_length, ear_tilt = u(0.05, 0.26), u(-1.6, 1.3)
    eyes = []
    for side in (1, -1):
        ear = skull + aside * (side * head_r * 0.7)[:, None] + above * (head_r * 0.55)[:, None]
        tip = ear + at(-ear_length * 0.4 * torch.cos(ear_tilt), side * ear_length * 0.5, ear_length * torch.sin(ear_tilt))
        body.add(ear, tip, head_r * 0.28, head_r * 0.12, EAR_TAIL)
        eyes.append(
            skull
            + look * (head_r * 0.85)[:, None]
            + aside * (side * head_r * 0.45)[:, None]
            + above * (head_r * 0.4)[:, None]
        )
    tail_tilt, tail_length, tail_r = u(-1.4, 1.5), u(0.03, 0.55), u(0.018, 0.07)
    tail = at(hind_x - girth * 0.75, 0, rump_z + girth * 0.4)
    half = tail + at(-tail_length * 0.5 * torch.cos(tail_tilt), u(-0.06, 0.06), tail_length * 0.5 * torch.sin(tail_tilt))
    curl = tail_tilt + u(-0.6, 1.4)
    tail_end = half + at(-tail_length * 0.5 * torch.cos(curl), u(-0.12, 0.12), tail_length * 0.5 * torch.sin(curl))
    body.add(tail, half, tail_r * 1.2, tail_r, EAR_TAIL)
    body.add(half, tail_end, tail_r, tail_r * 0.6, EAR_TAIL)

    # Where each foot is in its cycle. A walk is lateral (hind, then the fore of the same side a quarter later),
    # a trot diagonal, a pace lateral together.
    kind, moment = torch.rand(n, device=device), torch.rand(n, device=device)
    standing = torch.rand(n, device=device) < 0.12
    duty = torch.where(kind < 0.55, u(0.55, 0.74), u(0.3, 0.5))
    fore_lag = torch.where(kind < 0.55, u(0.1, 0.3), torch.where(kind < 0.9, u(0.42, 0.55), u(-0.05, 0.08)))
    opposite = torch.where(kind > 0.96, u(0.05, 0.2), u(0.46, 0.54))
    reach, lift = u(0.14, 0.42) * (0.6 + 0.4 * leg / 0.6), u(0.04, 0.34) * leg / 0.6
    limb_r, paw_r, paw_length = u(0.026, 0.05) * thick, u(0.03, 0.052) * thick, u(0.02, 0.08)
    feather = dice.chance(0.3) * u(0.0, 0.04)
    out = {name: [] for name in ("forePaw", "hindPaw", "carpus", "hock", "elbow", "stifle", "shoulder", "hip")}
    contact = {"forePaw": [], "hindPaw": []}
    soles = {"forePaw": [], "hindPaw": []}
    frame = torch.randint(0, len(recorded), (n,), device=device) if recorded else None
    replayed = (torch.rand(n, device=device) < RECORDED_SHARE) & ~standing if recorded else torch.zeros_like(standing)
    for side in (1, -1):
        for hind in (True, False):
            limb = (0 if side > 0 else 2) + (0 if hind else 1)
            phase = (moment + (0 if side > 0 else opposite) + (0 if hind else fore_lag) + dice.normal(0.02)) % 1.0
            stance = phase < duty
            part = torch.where(stance, phase / duty, (phase - duty) / (1 - duty))
            ahead = torch.where(stance, reach * (1 - 2 * part), -reach * torch.cos(part * math.pi))
            up = torch.where(stance, 0.0, lift * torch.sin(part * math.pi) * (1 - 0.3 * part))
            ahead = torch.where(standing, dice.normal(0.06), ahead)
            up = torch.where(standing, 0.0, up)
            swing = (~stance & ~standing).float() * torch.sin(part * math.pi)
            down = (stance | standing).float()
            if recorded:
                limb_length = (rump_z if hind else shoulder_z) * (0.6 + 0.4 * leg / 0.6)
                ahead = torch.where(replayed, recorded.ahead[frame, limb] * limb_length * u(0.8, 1.1), ahead)
                up = torch.where(replayed, recorded.up[frame, limb] * limb_length, up)
                down = torch.where(replayed, recorded.down[frame, limb], down)
                swing = torch.where(replayed, 1 - recorded.down[frame, limb], swing)
            y = half_track * side * (1 + dice.normal(0.12))
            foot = at((hind_x if hind else fore_x) + ahead, y * u(0.7, 1.1), up + paw_r * RESTS_ON)
            if hind:
                hip = at(hind_x + 0.03, y * 1.1, rump_z - girth * 0.1)
                shank = leg * u(0.36, 0.48)
                lean = u(0.1, 0.5) + swing * u(0.3, 0.9) - ahead * u(0.3, 0.8)
                if recorded:
                    lean = torch.where(replayed, recorded.lean[frame, limb] + dice.normal(0.08), lean)
                hock = foot + at(-shank * torch.sin(lean), 0, shank * torch.cos(lean))
                room = torch.linalg.norm(hip - hock, dim=-1)
                bone = (rump_z - shank).clamp_min(0.15) * u(0.54, 0.62)
                upper = torch.maximum(bone, room * 0.53)
                lower = torch.maximum(bone * u(0.9, 1.1), room * 0.53)
                stifle, _ = knee(hip, hock, upper, lower, 1.0)
                body.add(hip, stifle, girth * u(0.5, 0.68) + coat, limb_r * 1.9 + coat, TORSO)
                body.add(stifle, hock, limb_r * 2.1 + feather, limb_r * 0.95 + feather * 0.5, LIMB)
                body.add(hock, foot, limb_r * 0.95, limb_r * 0.95, FOOT)
                for name, point in (("hip", hip), ("stifle", stifle), ("hock", hock), ("hindPaw", foot)):
                    out[name].append(point)
                contact["hindPaw"].append(down)
            else:
                shoulder = at(fore_x + 0.05, y * 1.05, shoulder_z - girth * 0.35)
                pastern = leg * u(0.26, 0.36)
                lean = u(-0.15, 0.15) - swing * u(0.3, 1.2) + ahead * u(-0.3, 0.1)
                if recorded:
                    lean = torch.where(replayed, recorded.lean[frame, limb] - PASTERN_LEAN + dice.normal(0.08), lean)
                carpus = foot + at(-pastern * torch.sin(lean), 0, pastern * torch.cos(lean))
                room = torch.linalg.norm(shoulder - carpus, dim=-1)
                bone = (shoulder_z - pastern).clamp_min(0.15) * 0.55
                upper = torch.maximum(bone * u(0.75, 0.95), room * 0.53)
                lower = torch.maximum(bone * u(0.95, 1.1), room * 0.53)
                elbow, _ = knee(shoulder, carpus, upper, lower, -1.0)
                body.add(at(fore_x - 0.03, y, shoulder_z + girth * 0.3), shoulder, girth * 0.45, girth * 0.42, TORSO)
                body.add(shoulder, elbow, girth * 0.42 + coat, limb_r * 1.6 + coat, TORSO)
                body.add(elbow, carpus, limb_r * 1.5 + feather, limb_r, LIMB)
                body.add(carpus, foot, limb_r, limb_r * 0.95, FOOT)
                for name, point in (("shoulder", shoulder), ("elbow", elbow), ("carpus", carpus), ("forePaw", foot)):
                    out[name].append(point)
                contact["forePaw"].append(down)
            toe = foot + at(paw_length, 0, -paw_r * 0.15 - paw_length * swing * u(0.0, 1.0))
            body.add(foot, toe, paw_r, paw_r * 0.8, FOOT)
            for place in (-0.72, -0.25, 0.25, 0.72) if toes else []:
                root = foot + (toe - foot) * 0.55 + at(0, place * paw_r, 0)
                tip = toe + at(paw_r * (0.55 - 0.35 * abs(place)), place * paw_r * 1.1, -paw_r * 0.2)
                body.add(root, tip, paw_r * 0.5, paw_r * 0.38, FOOT)
            # People mark the middle of the paw, not the joint above it.
            name = "hindPaw" if hind else "forePaw"
            middle = foot + (toe - foot) * 0.5
            out[name][-1] = middle
            soles[name].append(torch.stack([middle[:, 0], middle[:, 1], up], -1))
    body.points = {name: torch.stack(points, 1) for name, points in out.items()}
    body.points["eye"] = torch.stack(eyes, 1)
    body.points["nose"] = nose[:, None]
    body.points["withers"] = at(fore_x - 0.02, 0, shoulder_z + girth * 0.85)[:, None]
    body.points["tailBase"] = tail[:, None]
    body.contact = {name: torch.stack(parts, 1) for name, parts in contact.items()}
    body.soles = {name: torch.stack(points, 1) for name, points in soles.items()}
    body.half_width = 0.9 * paw_r * math.sqrt(1 - RESTS_ON**2)
    body.length, body.leg = length, leg
    return body
