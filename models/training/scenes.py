"""What stands around a rendered body: camera, poles, a handler's legs, light, ground; and what hides what.

Renderers share this and differ in how surfaces are found, shaded and textured.
"""

from dataclasses import dataclass

import torch
import torch.nn.functional as F

from bodies import Dice
from maps import HEAT


@dataclass
class Camera:
    """Looks at `origin` along `forward`; a picture point (x, y in -1..1) lies on forward + (x·right − y·up)/focal."""

    origin: torch.Tensor
    forward: torch.Tensor
    right: torch.Tensor
    up: torch.Tensor
    focal: torch.Tensor
    distance: torch.Tensor

    def rays(self, size):
        """Unit directions [n, size², 3]."""
        j = (torch.arange(size, device=self.origin.device) + 0.5) / size * 2 - 1
        y, x = torch.meshgrid(j, j, indexing="ij")
        d = self.forward[:, None] + (x.reshape(1, -1, 1) * self.right[:, None] - y.reshape(1, -1, 1) * self.up[:, None]) / (
            self.focal[:, None, None]
        )
        return F.normalize(d, dim=-1)

    def project(self, points, size):
        """Points [n, k, 3] → pixels [n, k, 2] and depth along the view [n, k]."""
        d = points - self.origin[:, None]
        depth = (d * self.forward[:, None]).sum(-1)
        safe = depth.clamp_min(0.05)
        x = (d * self.right[:, None]).sum(-1) / safe * self.focal[:, None]
        y = -(d * self.up[:, None]).sum(-1) / safe * self.focal[:, None]
        return torch.stack([(x + 1) / 2 * size, (y + 1) / 2 * size], -1), depth


def place_camera(body, device):
    """Mostly side on and a little above, as clips of pole work are filmed; one in eight from anywhere around."""
    n = body.length.shape[0]
    dice = Dice(n, device)
    u = dice.between
    yaw = dice.normal(0.28) + dice.chance(0.12) * u(-1.5, 1.5)
    pitch, roll = u(0.0, 0.42), dice.normal(0.05)
    extent = torch.maximum(body.length + 0.9, torch.full_like(body.length, 1.25))
    view = u(0.22, 1.05)
    # How much of the picture the dog's longer side takes; now and then small, for the finder.
    share = torch.where(torch.rand(n, device=device) < 0.12, u(0.15, 0.5), u(0.5, 0.98))
    distance = extent / (2 * torch.tan(view / 2) * share)
    zero, one = torch.zeros(n, device=device), torch.ones(n, device=device)
    slack = (1 / share - 1).clamp(0, 2) * extent * 0.35
    centre = torch.stack([dice.normal(1.0).clamp(-1, 1) * slack + u(-0.1, 0.15), zero, u(0.36, 0.6) + u(-0.5, 0.5) * slack], -1)
    forward = torch.stack(
        [torch.sin(yaw) * torch.cos(pitch), torch.cos(yaw) * torch.cos(pitch), -torch.sin(pitch)], -1
    )
    vertical = torch.stack([zero, zero, one], -1)
    right = F.normalize(torch.cross(forward, vertical, dim=-1), dim=-1)
    up = torch.cross(right, forward, dim=-1)
    c, s = torch.cos(roll)[:, None], torch.sin(roll)[:, None]
    right, up = right * c + up * s, up * c - right * s
    return Camera(centre - forward * distance[:, None], forward, right, up, 1 / torch.tan(view / 2), distance)


@dataclass
class Things:
    """Straight round objects: poles, posts and cones that they lie on, a handler's legs. A radius under 0 is absent.

    From `a` with radius `r` to `b` with radius `rb`.
    """

    a: torch.Tensor
    b: torch.Tensor
    r: torch.Tensor
    rb: torch.Tensor
    colour: torch.Tensor
    stripes: torch.Tensor


def place_things(body, device, poles=5, cones=0.0):
    """`cones`: how many of the stands are cones, wide on the ground."""
    n = body.length.shape[0]
    dice = Dice(n, device)
    u = dice.between
    a, b, r = [], [], []
    wide = {}
    here = dice.chance(0.65)
    gap, first = u(0.45, 1.3), u(-1.7, -0.5)
    height = torch.where(torch.rand(n, device=device) < 0.35, torch.zeros(n, device=device), u(0.02, 0.3) * body.leg / 0.6)
    radius, near, far = u(0.012, 0.04), u(0.2, 0.95), u(0.2, 0.95)
    stands = dice.chance(0.5) * here
    skew = dice.normal(0.12)
    cone, foot = dice.chance(cones), u(0.05, 0.13) if cones else None
    for i in range(poles):
        x = first + gap * (i + dice.normal(0.03))
        z = height + radius
        a.append(torch.stack([x - skew * near, -near, z], -1))
        b.append(torch.stack([x + skew * far, far, z], -1))
        r.append(radius * here - (1 - here) * 9)
        a.append(torch.stack([x - skew * near, -near, torch.zeros_like(z)], -1))
        b.append(torch.stack([x - skew * near, -near, z * u(1.0, 1.8)], -1))
        r.append(radius * u(1.2, 2.6) * stands - (1 - stands) * 9)
        if cones:
            # A cone stands at both ends of a pole and reaches to it.
            wide[len(r) - 1] = torch.where(cone * stands > 0, foot, r[-1])
            a.append(torch.stack([x + skew * far, far, torch.zeros_like(z)], -1))
            b.append(torch.stack([x + skew * far, far, z * u(1.0, 1.4)], -1))
            r.append(torch.where(cone * stands > 0, radius * u(0.8, 1.4), torch.full_like(radius, -9)))
            wide[len(r) - 1] = torch.where(cone * stands > 0, foot, r[-1])
    handler = dice.chance(0.35)
    hx = u(-1.0, 1.0)
    hy = torch.where(torch.rand(n, device=device) < 0.35, -u(0.4, 0.8), u(0.35, 0.9))
    for side in (-1, 1):
        step = u(-0.4, 0.4)
        a.append(torch.stack([hx + step, hy + 0.08 * side, torch.zeros(n, device=device)], -1))
        b.append(torch.stack([hx, hy + 0.08 * side, u(1.0, 1.7)], -1))
        r.append(u(0.06, 0.12) * handler - (1 - handler) * 9)
    # A lead from the neck or from a harness's back up to a hand.
    lead = dice.chance(0.3)
    back = body.a[0] + torch.stack([-u(0.0, 0.3), torch.zeros(n, device=device), body.ra[0]], -1)
    a.append(torch.where(dice.chance(0.4)[:, None] > 0, back, body.a[3]))
    b.append(torch.stack([hx, hy, u(1.0, 1.5)], -1))
    r.append(u(0.006, 0.014) * lead - (1 - lead) * 9)
    count = len(r)
    colour = torch.rand(n, count, 3, device=device)
    # All poles of a scene look alike, and all that they lie on.
    each = 3 if cones else 2
    for i in range(each, each * poles, each):
        colour[:, i : i + each] = colour[:, :each]
    at_a = [wide.get(i, radius) for i, radius in enumerate(r)]
    return Things(torch.stack(a, 1), torch.stack(b, 1), torch.stack(at_a, 1), torch.stack(r, 1), colour, u(2.0, 8.0) * dice.chance(0.4))


def photo_ground(photos, n, size):
    """Random pieces of photographs, [n, 3, size, size]."""
    device = photos.device
    dice = Dice(n, device)
    u = dice.between
    chosen = photos[dice.pick(photos.shape[0])].float() / 255
    zoom = u(0.4, 1.0)
    view = torch.zeros(n, 2, 3, device=device)
    view[:, 0, 0] = zoom * torch.where(torch.rand(n, device=device) < 0.5, -1.0, 1.0)
    view[:, 1, 1] = zoom * u(0.7, 1.2)
    view[:, 0, 2] = u(-0.5, 0.5) * (1 - zoom)
    view[:, 1, 2] = u(-0.3, 0.9) * (1 - zoom)
    grid = F.affine_grid(view, (n, 3, size, size), align_corners=False)
    return F.grid_sample(chosen, grid, align_corners=False, padding_mode="reflection")


def label_points(body, camera, depth, size, hidden_beyond=0.17):
    """Where the points fall and whether they are seen.

    Returns points [n, maps, 2, 2] in pixels, seen [n, maps, 2] (2 seen, 1 hidden, -1 outside, 0 no such point),
    far, left and contact [n, maps, 2] (1 yes, 0 no, -1 cannot be said).
    """
    n, device = body.length.shape[0], body.length.device
    points = torch.zeros(n, len(HEAT), 2, 2, device=device)
    seen = torch.zeros(n, len(HEAT), 2, dtype=torch.long, device=device)
    far = torch.full((n, len(HEAT), 2), -1.0, device=device)
    left = torch.full((n, len(HEAT), 2), -1.0, device=device)
    contact = torch.full((n, len(HEAT), 2), -1.0, device=device)
    rows = torch.arange(n, device=device)[:, None]
    # Near and far mean something only when the view is across the dog.
    across = camera.forward[:, 1].abs() > 0.5
    for k, name in enumerate(HEAT):
        world = body.points[name]
        count = world.shape[1]
        pixel, _ = camera.project(world, size)
        away = torch.linalg.norm(world - camera.origin[:, None], dim=-1)
        column, row = (pixel[..., i].long().clamp(0, size - 1) for i in (0, 1))
        inside = ((pixel > 2) & (pixel < size - 3)).all(-1)
        visible = depth[rows, row, column] > away - hidden_beyond
        points[:, k, :count] = pixel
        seen[:, k, :count] = torch.where(inside, torch.where(visible, 2, 1), -1)
        if count == 2:
            left[:, k] = torch.tensor([1.0, 0.0], device=device)
            is_far = (torch.stack([camera.forward[:, 1], -camera.forward[:, 1]], -1) > 0).float()
            far[:, k] = torch.where(across[:, None], is_far, -1.0)
        if name in body.contact:
            contact[:, k] = body.contact[name]
    return points, seen, far, left, contact


def flip_some(picture, mask, points, seen, far, left, contact, size):
    """Mirrors half of the pictures; left and right change places."""
    n = picture.shape[0]
    turn = torch.rand(n, device=picture.device) < 0.5
    picture = torch.where(turn[:, None, None, None], picture.flip(-1), picture)
    mask = torch.where(turn[:, None, None, None], mask.flip(-1), mask)
    x = torch.where(turn[:, None, None], size - points[..., 0], points[..., 0])
    left = torch.where(turn[:, None, None] & (left >= 0), 1 - left, left)
    return picture, mask, torch.stack([x, points[..., 1]], -1), seen, far, left, contact
