"""Second renderer: bodies cut from flat strips, one per bone, papered with pieces of photographs and laid over each
other by distance. It knows no surface normals, no smooth joins and no cast shadows, so that what a network learns
from both renderers is neither's look."""

import torch
import torch.nn.functional as F

from bodies import FOOT, LIMB, TORSO, Dice, make_bodies
from cones import lay_strips
from floors import draw_floor
from scenes import flip_some, label_points, photo_ground, place_camera, place_things


class PaintedPictures:
    """Call with a count; the same outputs as TracedPictures."""

    def __init__(self, photos, size, recorded=None):
        self.photos, self.size, self.recorded = photos, size, recorded
        self.sheets = torch.rand(8, 3, 96, 96, device=photos.device) * 3.4 - 1.7

    @torch.no_grad()
    def without_body(self, n):
        """Poles, stands and a handler's legs on photographs, and no dog: pictures alone."""
        return self(n, bodies=False)[0]

    @torch.no_grad()
    def __call__(self, n, bodies=True):
        device, size = self.photos.device, self.size
        dice = Dice(n, device)
        u = dice.between
        body = make_bodies(n, device, self.recorded)
        a, b, ra, rb, part = body.stacked()
        camera = place_camera(body, device)
        things = place_things(body, device)
        count = a.shape[1]
        if not bodies:
            ra, rb = torch.full_like(ra, -1), torch.full_like(rb, -1)
        a, b = torch.cat([a, things.a], 1), torch.cat([b, things.b], 1)
        ra, rb = torch.cat([ra, things.r], 1), torch.cat([rb, things.rb], 1)
        a2, za = camera.project(a, size)
        b2, zb = camera.project(b, size)
        scale = camera.focal[:, None] * size / 2
        ra, rb = ra * scale / za.clamp_min(0.2), rb * scale / zb.clamp_min(0.2)
        strips = torch.cat([a2, b2, torch.stack([ra, rb, za, zb], -1)], -1)
        rough = F.interpolate(torch.randn(n, 1, size // 4, size // 4, device=device), size=(size, size), mode="bilinear")
        wobble = (1 + rough.flatten(1) * u(0.0, 0.16)[:, None]).clamp(0.5, 1.5)
        strip, depth, along, across = lay_strips(strips, wobble, size)
        on_body, on_thing = (strip >= 0) & (strip < count), strip >= count

        back = photo_ground(self.photos, n, size).flatten(2).transpose(1, 2)
        d, o = camera.rays(size), camera.origin
        away = -o[:, None, 2] / d[..., 2].clamp_max(-1e-3)
        floor = draw_floor((o[:, None] + d * away.clamp(0, 40)[..., None])[..., :2], self.sheets, dice)
        floored = (d[..., 2] < -1e-3) & (away < 30) & (dice.chance(0.4) > 0)[:, None]
        back = torch.where(floored[..., None], floor, back)
        paper = photo_ground(self.photos, n, size)
        # The paper slides with the strip, so that each bone carries its own piece of the photograph.
        which = strip.clamp_min(0)
        jump = torch.rand(n, a.shape[1], 2, device=device) * 2 - 1
        where = torch.gather(jump, 1, which[..., None].expand(-1, -1, 2)) * 0.5
        where = where + torch.stack([across * u(0.05, 0.3)[:, None], along * u(0.1, 0.6)[:, None]], -1)
        texture = F.grid_sample(paper, where[:, :, None], align_corners=False, padding_mode="reflection")[..., 0].transpose(1, 2)
        grey = texture.mean(-1, keepdim=True)
        centre = grey.mean(1, keepdim=True)
        tint = torch.rand(n, 1, 3, device=device)
        tint = tint * 0.35 + tint.mean(-1, keepdim=True) * 0.65
        dark = torch.rand(n, 1, 1, device=device) * 0.95 + 0.05
        coat = (tint / tint.amax(-1, keepdim=True) * dark * (1 + (grey - centre) * u(0.2, 2.0)[:, None, None])).clamp(0, 1)
        second = (torch.rand(n, 1, 3, device=device) * 0.3 + torch.rand(n, 1, 1, device=device) * 0.7).expand_as(coat)
        piece = torch.cat([part, torch.full((things.a.shape[1],), -1, device=device)])[which]
        swap = lambda chance: torch.rand(n, 1, device=device) < chance  # noqa: E731
        marked = ((piece == FOOT) & swap(0.35)) | ((piece == LIMB) & swap(0.2))
        spot = F.interpolate(torch.randn(n, 1, 7, 7, device=device), size=(size, size), mode="bicubic").flatten(1)
        marked = marked | ((piece == TORSO) & (spot > u(0.3, 2.5)[:, None]))
        coat = torch.where(marked[..., None], second * (0.7 + 0.6 * grey), coat)
        # A harness around the chest: a piece of the first strip of the trunk.
        start = u(0.0, 0.5)[:, None]
        harness = (strip == 0) & (along > start) & (along < start + u(0.1, 0.5)[:, None]) & swap(0.25)
        coat = torch.where(harness[..., None], torch.rand(n, 1, 3, device=device) * (0.8 + 0.4 * grey), coat)
        # Light from one side across the strip, and a darker rim.
        lean = u(-0.35, 0.35)[:, None] * across
        rim = 1 - u(0.0, 0.5)[:, None] * across.abs() ** 3
        # Far limbs are darker.
        middle = camera.distance[:, None]
        gloom = 1 - u(0.0, 0.5)[:, None] * ((depth - middle) / 0.25).clamp(0, 1) * (piece >= LIMB)
        coat = (coat * (1 + lean[..., None]) * (rim * gloom)[..., None]).clamp(0, 1)
        pole = torch.gather(things.colour, 1, (strip - count).clamp_min(0)[..., None].expand(-1, -1, 3))
        bands = (along * 9 * things.stripes[:, None] / 4).sin()[..., None] > 0
        pole = torch.where(bands, 1 - pole * 0.6, pole) * (1 + lean[..., None])
        # A dark smear under the paws in place of a shadow.
        feet = torch.cat([body.points["forePaw"], body.points["hindPaw"]], 1) * torch.tensor([1.0, 1.0, 0.0], device=device)
        spots, zf = camera.project(feet, size)
        j = torch.arange(size, device=device, dtype=torch.float32) + 0.5
        y, x = torch.meshgrid(j, j, indexing="ij")
        smear = torch.zeros(n, size * size, device=device)
        spread = (0.12 * scale[:, :1] / zf.mean(1, keepdim=True)).clamp_min(1.0)
        for i in range(spots.shape[1]):
            dx = (x.reshape(1, -1) - spots[:, i, 0, None]) / spread
            dy = (y.reshape(1, -1) - spots[:, i, 1, None]) / (spread * 0.35)
            smear = torch.maximum(smear, torch.exp(-(dx * dx + dy * dy)))
        back = back * (1 - (u(0.0, 0.7)[:, None] * smear)[..., None])
        colour = torch.where(on_body[..., None], coat, torch.where(on_thing[..., None], pole, back))
        picture = colour.transpose(1, 2).reshape(n, 3, size, size).clamp(0, 1)
        mask = on_body.reshape(n, 1, size, size).float()
        labels = label_points(body, camera, depth.reshape(n, size, size), size, hidden_beyond=0.12)
        return flip_some(picture, mask, *labels, size)
