"""Small pictures of one paw each, with where its pad meets the ground: rendered ones, and labelled ones of real dogs."""

from dataclasses import dataclass

import torch
import torch.nn.functional as F

from bodies import Dice, make_bodies
from degrade import degrade
from labelled import CANVAS
from maps import HEAT
from pad_network import PATCH, SHARE
from scenes import place_camera, place_things

# Rendered that much larger, and made smaller again: edges as soft as a camera's.
FINER = 2
# The middle of a paw counts as seen when nothing but the paw itself, and this much, lies before it.
SLACK = 0.05
PAWS = ("hindPaw", "forePaw")
# Points of a dog that are no paws and not next to one.
NO_PAWS = ("elbow", "stifle", "nose", "tailBase", "hock", "carpus")
# Nearer to the middle than the first a paw is what the picture is of; farther than the second it is none. Shares of the side.
WELL_INSIDE, OUTSIDE = 0.32, 0.5
# Of the pictures, how many are of what could be taken for a paw.
MISTAKEN = 0.28
# Of the stands, how many are cones: a leg of a dog is not the only thing that widens towards the ground.
CONES = 0.5
# How far a mark lies from the paw it is of, shares of the picture's side: mostly, and for one in four.
NEAR_MARK, FAR_MARK = 0.05, 0.14
# The same for labelled paws, which are marked roughly themselves: nearer, and the middle of the picture would say where.
NEAR_LABEL, FAR_LABEL = 0.09, 0.18


@dataclass
class Window:
    """A square part of a camera's view; `at` [n, 2] its middle and `half` [n] half of its side, in the view's −1..1."""

    camera: object
    at: torch.Tensor
    half: torch.Tensor

    @property
    def origin(self):
        return self.camera.origin

    @property
    def distance(self):
        return self.camera.distance

    def rays(self, size):
        c = self.camera
        j = (torch.arange(size, device=c.origin.device) + 0.5) / size * 2 - 1
        y, x = torch.meshgrid(j, j, indexing="ij")
        x = self.at[:, 0, None] + self.half[:, None] * x.reshape(1, -1)
        y = self.at[:, 1, None] + self.half[:, None] * y.reshape(1, -1)
        d = c.forward[:, None] + (x[..., None] * c.right[:, None] - y[..., None] * c.up[:, None]) / c.focal[:, None, None]
        return F.normalize(d, dim=-1)

    def project(self, points, size):
        """Points [n, k, 3] → pixels [n, k, 2] of the window."""
        in_view, _ = self.camera.project(points, 2)
        return ((in_view - 1 - self.at[:, None]) / self.half[:, None, None] + 1) / 2 * size


def dog_height(body, camera):
    """Height of the dog's box in the view's −1..1."""
    a, b, ra, rb, _ = body.stacked()
    tops, bottoms = [], []
    for ends, radii in ((a, ra), (b, rb)):
        at, depth = camera.project(ends, 2)
        reach = radii * camera.focal[:, None] / depth.clamp_min(0.2)
        tops.append((at[..., 1] - reach).amin(1))
        bottoms.append((at[..., 1] + reach).amax(1))
    return torch.maximum(*bottoms) - torch.minimum(*tops)


class RenderedPads:
    """Call with a count for (picture [n, 3, PATCH, PATCH], pad [n, 2] in its pixels, shown [n]).

    shown: 1 where the pad of a paw in sight lies well inside, 0 where there is none, −1 where neither can be said.
    """

    def __init__(self, traced):
        self.traced = traced

    @torch.no_grad()
    def __call__(self, n):
        device = self.traced.photos.device
        dice = Dice(n, device)
        rows = torch.arange(n, device=device)
        body = make_bodies(n, device, toes=True)
        camera = place_camera(body, device)
        things = place_things(body, device, cones=CONES)
        paws = torch.cat([body.points[name] for name in PAWS], 1)
        soles = torch.cat([body.soles[name] for name in PAWS], 1)
        down = torch.cat([body.contact[name] for name in PAWS], 1)
        # Mostly paws that stand, more hind than fore ones.
        wish = torch.tensor([3.0, 3.0, 2.0, 2.0], device=device) * (0.2 + down)
        target = paws[rows, torch.multinomial(wish, 1)[:, 0]]
        elsewhere = self.mistakable(body, things, dice)
        astray = dice.chance(MISTAKEN)[:, None] > 0
        target = torch.where(astray, elsewhere, target)
        in_view = lambda points: camera.project(points, 2)[0] - 1  # noqa: E731
        side = SHARE * dog_height(body, camera) * torch.exp(dice.normal(0.2))
        spread = torch.where(dice.chance(0.25) > 0, FAR_MARK, NEAR_MARK)
        off = (torch.randn(n, 2, device=device) * spread[:, None]).clamp(-0.36, 0.36) * side[:, None]
        window = Window(camera, in_view(target[:, None])[:, 0] + off, side / 2)
        picture, _, depth = self.traced.draw(body, window, things, PATCH * FINER)

        def shows(points):
            pixel = window.project(points, PATCH * FINER).long()
            inside = ((pixel >= 0) & (pixel < PATCH * FINER)).all(-1)
            pixel = pixel.clamp(0, PATCH * FINER - 1)
            there = depth[rows[:, None], pixel[..., 1], pixel[..., 0]]
            away = torch.linalg.norm(points - camera.origin[:, None], dim=-1)
            return inside & (there > away - SLACK - 2 * body.half_width[:, None])

        towards = F.normalize(camera.origin[:, None, :2] - soles[..., :2], dim=-1) * body.half_width[:, None, None]
        edge = torch.cat([soles[..., :2] + towards, soles[..., 2:]], -1)
        seen = shows(paws) | shows(edge + torch.tensor([0, 0, 0.02], device=device))
        # A picture is of the paw nearest to its middle, as far as any can be told.
        from_middle = torch.linalg.norm(in_view(paws) - window.at[:, None], dim=-1) / side[:, None]
        from_middle, which = (from_middle + 9 * (~seen).float()).min(1)
        shown = torch.where(from_middle < WELL_INSIDE, 1, torch.where(from_middle < OUTSIDE, -1, 0))
        return F.avg_pool2d(picture, FINER), window.project(edge, PATCH)[rows, which], shown

    @staticmethod
    def mistakable(body, things, dice):
        """One place a row [n, 3] that could be taken for a paw: ends of poles and stands, shoes, joints, bare ground."""
        n, count = things.r.shape
        rows = torch.arange(n, device=things.r.device)
        there = (things.r > 0).float() + 1e-6
        k = torch.multinomial(there, 1)[:, 0]
        thing = torch.where(dice.chance(0.5)[:, None] > 0, things.a[rows, k], things.b[rows, k])
        low = (thing[:, 2] < 0.35) & (things.r[rows, k] > 0)
        joints = torch.cat([body.points[name] for name in ("hock", "carpus", "stifle", "elbow", "tailBase", "nose")], 1)
        joint = joints[rows, torch.randint(0, joints.shape[1], (n,), device=rows.device)]
        ground = torch.stack([dice.between(-1.2, 1.2), dice.between(-0.5, 0.5), torch.zeros(n, device=rows.device)], -1)
        other = torch.where(dice.chance(0.5)[:, None] > 0, joint, ground)
        return torch.where(low[:, None] & (dice.chance(0.75)[:, None] > 0), thing, other)


class Kept:
    """Rendered pictures kept on the device, as bytes; each is used several times in different weather."""

    def __init__(self, render, capacity):
        self.render, self.capacity, self.turn = render, capacity, 0
        device = render.traced.photos.device
        self.pictures = torch.zeros(capacity, 3, PATCH, PATCH, dtype=torch.uint8, device=device)
        self.pads = torch.zeros(capacity, 2, device=device)
        self.shown = torch.zeros(capacity, dtype=torch.long, device=device)

    def refill(self, n):
        picture, pad, shown = self.render(n)
        at = (torch.arange(n, device=picture.device) + self.turn) % self.capacity
        self.pictures[at], self.pads[at], self.shown[at] = (picture * 255).byte(), pad, shown
        self.turn += n

    def draw(self, n):
        at = torch.randint(0, min(self.turn, self.capacity), (n,), device=self.pads.device)
        picture, pad = cut_off(self.pictures[at].float() / 255), self.pads[at]
        turned = torch.rand(n, device=pad.device) < 0.5
        picture = torch.where(turned[:, None, None, None], picture.flip(-1), picture)
        pad = torch.stack([torch.where(turned, PATCH - pad[:, 0], pad[:, 0]), pad[:, 1]], -1)
        return weathered(picture), pad, self.shown[at]


def cut_off(picture, chance=0.1):
    """Some pictures reach over the frame's right edge: beyond it the last column is drawn on, as the app does."""
    n, device = len(picture), picture.device
    edge = torch.randint(PATCH // 3, PATCH - 2, (n, 1), device=device)
    edge = torch.where(torch.rand(n, 1, device=device) < chance, edge, torch.full_like(edge, PATCH - 1))
    column = torch.minimum(torch.arange(PATCH, device=device)[None], edge)
    return torch.gather(picture, 3, column[:, None, None].expand_as(picture))


def weathered(picture):
    """What phone and codec do. A standing paw hardly moves while it is exposed."""
    return degrade(picture, farthest=2)


class RealPads:
    """Pictures of labelled paws of real dogs. People mark the paw, not its pad: see `loss_of` in train_pads.py."""

    def __init__(self, data):
        self.data = data
        k = torch.tensor([HEAT.index(name) for name in PAWS], device=data.box.device)
        self.points, seen = data.points[:, k].flatten(1, 2), data.seen[:, k].flatten(1, 2) == 2
        self.rows = seen.any(1).nonzero()[:, 0]
        self.seen = seen
        k = torch.tensor([HEAT.index(name) for name in NO_PAWS], device=data.box.device)
        self.others, self.others_seen = data.points[:, k].flatten(1, 2), data.seen[:, k].flatten(1, 2) == 2

    @torch.no_grad()
    def draw(self, n, gentle=False, chosen=None):
        """Picture, label [n, 2] in its pixels, side of the picture as a share of the dog's height (× SHARE), and shown [n]."""
        device = self.points.device
        dice = Dice(n, device)
        row = self.rows[torch.randint(0, len(self.rows), (n,), device=device)] if chosen is None else chosen[0]
        paw = torch.multinomial(self.seen[row].float(), 1)[:, 0] if chosen is None else chosen[1]
        label = self.points[row, paw]
        shown = torch.ones(n, dtype=torch.long, device=device)
        if not gentle:
            other = torch.multinomial(self.others_seen[row].float() + 1e-6, 1)[:, 0]
            place = self.others[row, other]
            high = self.data.box[row, 3] - self.data.box[row, 1]
            away = torch.linalg.norm(self.points[row] - place[:, None], dim=-1) > 0.6 * SHARE * high[:, None]
            # Paws without a label may be anywhere low down.
            clear = (away | ~(self.seen[row])).all(1) & (place[:, 1] < self.data.box[row, 3] - 0.45 * high)
            astray = self.others_seen[row, other] & clear & (dice.chance(MISTAKEN) > 0)
            label = torch.where(astray[:, None], place, label)
            shown = (~astray).long()
        scale = torch.ones(n, device=device) if gentle else torch.exp(dice.normal(0.16))
        side = SHARE * (self.data.box[row, 3] - self.data.box[row, 1]) * scale
        spread = 0.02 if gentle else torch.where(dice.chance(0.4) > 0, FAR_LABEL, NEAR_LABEL)[:, None]
        off = (torch.randn(n, 2, device=device) * spread).clamp(-0.38, 0.38) * side[:, None]
        turn = dice.normal(0.0 if gentle else 0.1)
        mirror = torch.ones(n, device=device) if gentle else 1 - 2 * dice.chance(0.5)
        c, s = torch.cos(turn) * side / PATCH, torch.sin(turn) * side / PATCH
        linear = torch.stack([torch.stack([c * mirror, -s], -1), torch.stack([s * mirror, c], -1)], 1)
        middle = label + off
        j = torch.arange(PATCH, device=device) + 0.5 - PATCH / 2
        y, x = torch.meshgrid(j, j, indexing="ij")
        grid = torch.einsum("nij,hwj->nhwi", linear, torch.stack([x, y], -1)) + middle[:, None, None]
        picture = self.data.pictures[row].float() / 255
        picture = F.grid_sample(picture, grid / CANVAS * 2 - 1, align_corners=False, padding_mode="border")
        # From the middle of the picture to the label, turned back.
        d = label - middle
        det = (c * c + s * s)[:, None]
        back = torch.stack([(c * d[:, 0] + s * d[:, 1]) * mirror, -s * d[:, 0] + c * d[:, 1]], -1) / det
        return (picture if gentle else weathered(picture)), back + PATCH / 2, scale, shown
