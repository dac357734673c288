"""First renderer: bodies as one smooth surface, sphere-traced, with shadows, over photographs or drawn ground."""

import torch
import torch.nn.functional as F

from bodies import EAR_TAIL, FOOT, LIMB, MUZZLE, Dice, make_bodies
from cones import nearest, smooth_surface
from floors import draw_floor
from scenes import flip_some, label_points, photo_ground, place_camera, place_things

COATS = [
    [0.05, 0.05, 0.06], [0.92, 0.9, 0.86], [0.72, 0.5, 0.28], [0.38, 0.22, 0.12],
    [0.5, 0.5, 0.52], [0.85, 0.68, 0.45], [0.25, 0.2, 0.18], [0.8, 0.78, 0.7],
]  # fmt: skip


class TracedPictures:
    """Call with a count for (picture, mask, points, seen, far, left, contact); sizes as in scenes.label_points."""

    def __init__(self, photos, size, recorded=None):
        self.photos, self.size, self.recorded = photos, size, recorded
        device = photos.device
        self.volume = torch.randn(8, 3, 24, 24, 24, device=device)
        self.sheet = torch.randn(8, 3, 64, 64, device=device)

    def grain(self, p, scale, kind):
        """Smooth noise at points [n, m, 3], three channels."""
        n = p.shape[0]
        chosen = self.volume[torch.randint(0, 8, (n,), device=p.device)]
        where = ((p * scale[:, None, None] / 12 + kind * 0.37) % 2) - 1
        return F.grid_sample(chosen, where[:, :, None, None], align_corners=False, padding_mode="border")[..., 0, 0].transpose(1, 2)

    @torch.no_grad()
    def __call__(self, n):
        device, size = self.photos.device, self.size
        body = make_bodies(n, device, self.recorded)
        camera = place_camera(body, device)
        picture, mask, depth = self.draw(body, camera, place_things(body, device), size)
        labels = label_points(body, camera, depth, size)
        return flip_some(picture, mask, *labels, size)

    def draw(self, body, camera, things, size):
        """What a camera sees: picture [n, 3, size, size], the body's mask and the distance to what is seen."""
        n, device = body.length.shape[0], body.length.device
        dice = Dice(n, device)
        u = dice.between
        a, b, ra, rb, part = body.stacked()
        blend = u(0.012, 0.032)[:, None]
        cones = torch.cat([a, b, ra[..., None], rb[..., None]], -1)
        rods = torch.cat([things.a, things.b, things.r[..., None], things.rb[..., None]], -1)
        d, o = camera.rays(size), camera.origin
        start = (camera.distance - 1.7).clamp_min(0.1)[:, None].expand(n, size * size).contiguous()
        t = start
        for _ in range(26):
            t = t + smooth_surface(o[:, None] + d * t[..., None], cones, blend).clamp(-0.05, 0.6) * 0.9
        p = o[:, None] + d * t[..., None]
        fur, end = u(0.0, 0.028)[:, None], (camera.distance + 3)[:, None]
        off = smooth_surface(p, cones, blend)
        on_body = (off < 0.006 + fur * self.grain(p, u(60.0, 220.0), 1)[..., 0].clamp(-1, 1) * 0.6) & (t < end)
        t2 = start.clone()
        for _ in range(18):
            step, _ = nearest(o[:, None] + d * t2[..., None], rods)
            t2 = t2 + step.clamp(-0.05, 0.6) * 0.95
        off2, which = nearest(o[:, None] + d * t2[..., None], rods)
        on_thing = (off2 < 0.004) & (t2 < end + 2)
        down = d[..., 2] < -1e-3
        ground = torch.where(down, -o[:, None, 2] / d[..., 2].clamp_max(-1e-3), torch.full_like(t, 1e3))
        on_thing = on_thing & (~on_body | (t2 < t))
        on_body = on_body & ~on_thing & (t < ground + 0.03)
        # Grass that hides what is close to the ground.
        blade = self.grain(p * torch.tensor([1.0, 1.0, 0.15], device=device), u(120.0, 300.0), 2)[..., 1]
        grass = u(0.0, 0.11)[:, None] * dice.chance(0.3)[:, None]
        on_body = on_body & ~(p[..., 2] < grass * (0.6 + 0.4 * blade))

        light = F.normalize(torch.stack([u(-1, 1), u(-1.2, 0.5), u(0.4, 1.6)], -1), dim=-1)
        body_colour = self.coat(p, cones, part, blend, light, u, dice)
        thing_colour = torch.gather(things.colour, 1, which[..., None].expand(-1, -1, 3))
        along = (o[:, None] + d * t2[..., None])[..., 1:2] * things.stripes[:, None, None]
        thing_colour = torch.where(along.sin() > 0, 1 - thing_colour * 0.6, thing_colour) * u(0.55, 1.0)[:, None, None]
        shadow = torch.ones_like(t)
        at_ground = o[:, None] + d * ground.clamp_max(40.0)[..., None]
        for reach in (0.03, 0.12, 0.3, 0.6):
            lit = smooth_surface(at_ground + light[:, None] * reach, cones, blend) / (0.12 * reach + 0.02)
            shadow = torch.minimum(shadow, lit.clamp(0, 1))
        back = self.background(at_ground, ground, size, u, dice)
        back = back * (1 - u(0.2, 0.85)[:, None, None] * (1 - shadow[..., None]) * (ground < 12.0).float()[..., None])
        colour = torch.where(on_body[..., None], body_colour, torch.where(on_thing[..., None], thing_colour, back))
        picture = colour.transpose(1, 2).reshape(n, 3, size, size).clamp(0, 1)
        mask = on_body.reshape(n, 1, size, size).float()
        depth = torch.where(on_body, t, torch.where(on_thing, t2, ground)).reshape(n, size, size)
        return picture, mask, depth

    def coat(self, p, cones, part, blend, light, u, dice):
        n, device = p.shape[0], p.device
        e = 0.006
        corners = [torch.tensor(v, device=device) * e for v in ((1.0, -1, -1), (-1.0, -1, 1), (-1.0, 1, -1), (1.0, 1, 1))]
        normal = F.normalize(sum(v / e * smooth_surface(p + v, cones, blend)[..., None] for v in corners), dim=-1)
        facing = (normal * light[:, None]).sum(-1).clamp_min(0)
        ambient = u(0.25, 0.75)[:, None]
        shade = ambient + (1.1 - ambient) * facing * u(0.4, 1.0)[:, None]
        shade = shade * (1 + 0.35 * (normal[..., 2] * 0.5 - 0.2) * u(0, 1)[:, None])
        palette = torch.tensor(COATS, device=device)
        first, second, third = (palette[dice.pick(8)] * u(0.7, 1.2)[:, None] for _ in range(3))
        _, which = nearest(p, cones)
        piece = part[which]
        patches = (self.grain(p, u(2.0, 8.0), 0)[..., 0] > u(-0.2, 1.2)[:, None]).float()[..., None]
        colour = first[:, None] * (1 - patches) + second[:, None] * patches
        roll = lambda chance: torch.rand(n, 1, device=device) < chance  # noqa: E731
        other = ((piece == FOOT) & roll(0.4)) | ((piece == LIMB) & roll(0.25)) | ((piece == MUZZLE) & roll(0.3))
        other = other | ((piece == EAR_TAIL) & roll(0.25))
        colour = torch.where(other[..., None], third[:, None].expand_as(colour), colour)
        belly = ((normal[..., 2] < -0.3) & roll(0.4)).float()[..., None]
        colour = colour * (1 - belly) + belly * (colour * 0.4 + 0.6 * third[:, None])
        # A harness: a band of another colour around the chest.
        band = roll(0.25) & ((p[..., 0] - cones[:, 0, None, 0] + u(0.0, 0.2)[:, None]).abs() < u(0.02, 0.06)[:, None])
        band = band & (piece == 0)
        # With the band, often a vest or a strap along the back.
        back = roll(0.12) & (normal[..., 2] > u(0.2, 0.8)[:, None]) & (piece == 0) & (p[..., 0] > u(-0.3, 0.2)[:, None])
        band = band | back
        colour = torch.where(band[..., None], torch.rand(n, 1, 3, device=device), colour)
        return colour * (1 + self.grain(p, u(50.0, 190.0), 1)[..., :1] * u(0.03, 0.24)[:, None, None]) * shade[..., None]

    def background(self, at_ground, ground, size, u, dice):
        n, device = len(at_ground), at_ground.device
        photo = photo_ground(self.photos, n, size).flatten(2).transpose(1, 2)
        floor = draw_floor(at_ground[..., :2], self.sheet, dice)
        wall = F.interpolate(torch.randn(n, 1, 6, 6, device=device), size=(size, size), mode="bilinear").flatten(1)
        wall = torch.rand(n, 3, device=device)[:, None] * (1 + 0.2 * wall[..., None])
        drawn = torch.where((ground < 30.0)[..., None], floor, wall)
        return torch.where(dice.chance(0.5)[:, None, None] > 0, photo, drawn)
