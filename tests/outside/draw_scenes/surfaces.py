"""The colours of what is drawn, and the surfaces that carry them."""

import bpy
import numpy as np

COLOURS = dict(
    BK=(26, 26, 27), BN=(96, 56, 36), RD=(190, 26, 28), OG=(228, 106, 22), YE=(226, 196, 34), GN=(30, 122, 58), BU=(30, 74, 176),
    VT=(104, 48, 150), GY=(128, 132, 136), WH=(222, 222, 214), PK=(226, 140, 160), TQ=(48, 170, 178), GNYE=(28, 130, 52),
)
SLEEVES = [(190, 28, 30), (30, 80, 190), (224, 190, 30), (215, 215, 208), (225, 226, 228), (30, 130, 60), (40, 40, 42)]
WALLS = [(150, 156, 160), (176, 190, 200), (110, 128, 150), (205, 196, 176), (222, 222, 218), (60, 62, 66), (120, 150, 136),
         (190, 186, 180), (90, 100, 112), (170, 150, 130), (140, 178, 160), (200, 204, 210)]
STEEL, COPPER, BRASS = (190, 190, 188), (196, 110, 66), (190, 156, 80)


def linear(colour):
    value = np.asarray(colour, float) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def encoded(value):
    value = np.clip(value, 0, 1)
    return np.where(value <= 0.0031308, value * 12.92, 1.055 * value ** (1 / 2.4) - 0.055)


class Materials:
    """Surfaces with dirt, each made once in a scene."""

    def __init__(self, rng, dirt):
        self.rng, self.dirt, self.made = rng, dirt, {}

    def get(self, colour, rough=0.5, metal=0.0, dirt=1.0, scale=0.25):
        key = (tuple(int(c) for c in colour), round(rough, 2), metal, dirt, scale)
        if key not in self.made:
            self.made[key] = self.make(*key)
        return self.made[key]

    def make(self, colour, rough, metal, dirt, scale):
        material, nodes, links, shader = self.bare(rough, metal)
        value = nodes.new("ShaderNodeRGB").outputs[0]
        value.default_value = (*linear(colour), 1)
        links.new(self.soiled(nodes, links, value, dirt, scale), shader.inputs["Base Color"])
        return material

    def wire(self, colour, tracer, stripes, share, pitch, rough):
        material, nodes, links, shader = self.bare(rough, 0.0)
        value = nodes.new("ShaderNodeRGB").outputs[0]
        value.default_value = (*linear(colour), 1)
        if tracer is not None:
            uv = nodes.new("ShaderNodeSeparateXYZ")
            links.new(nodes.new("ShaderNodeTexCoord").outputs["UV"], uv.inputs[0])
            along = self.math(nodes, links, "MULTIPLY", uv.outputs[0], stripes / pitch)
            around = self.math(nodes, links, "MULTIPLY_ADD", uv.outputs[1], stripes, along)
            part = self.math(nodes, links, "FRACT", self.math(nodes, links, "ADD", around, 1000.0))
            chosen = self.math(nodes, links, "LESS_THAN", part, share)
            value = self.mix(nodes, links, chosen, value, (*linear(tracer), 1))
        links.new(self.soiled(nodes, links, value, 0.6, 0.8), shader.inputs["Base Color"])
        return material

    @staticmethod
    def bare(rough, metal):
        material = bpy.data.materials.new("m")
        material.use_nodes = True
        nodes, links = material.node_tree.nodes, material.node_tree.links
        shader = nodes["Principled BSDF"]
        shader.inputs["Roughness"].default_value = rough
        shader.inputs["Metallic"].default_value = metal
        return material, nodes, links, shader

    @staticmethod
    def math(nodes, links, kind, *values):
        node = nodes.new("ShaderNodeMath")
        node.operation = kind
        for socket, value in zip(node.inputs, values):
            if isinstance(value, (int, float)):
                socket.default_value = value
            else:
                links.new(value, socket)
        return node.outputs[0]

    @staticmethod
    def mix(nodes, links, share, one, other):
        node = nodes.new("ShaderNodeMixRGB")
        links.new(share, node.inputs[0])
        links.new(one, node.inputs[1])
        node.inputs[2].default_value = other
        return node.outputs[0]

    def soiled(self, nodes, links, value, dirt, scale):
        """Darker spots, more of them in dirty scenes."""
        amount = self.dirt * dirt
        if amount < 0.03:
            return value
        place = nodes.new("ShaderNodeTexCoord").outputs["Object"]
        noise = nodes.new("ShaderNodeTexNoise")
        noise.inputs["Scale"].default_value = scale * self.rng.uniform(0.6, 2.0)
        noise.inputs["Detail"].default_value = 5
        noise.inputs["Roughness"].default_value = 0.65
        links.new(place, noise.inputs["Vector"])
        if scale < 0.2 and self.rng.random() < 0.3:
            value = self.flakes(nodes, links, value, place)
        above = self.math(nodes, links, "SUBTRACT", noise.outputs[0], self.rng.uniform(0.35, 0.55))
        share = nodes.new("ShaderNodeClamp")
        links.new(self.math(nodes, links, "MULTIPLY", above, 3.0 * amount), share.inputs[0])
        share.inputs["Max"].default_value = min(0.7, amount)
        return self.mix(nodes, links, share.outputs[0], value, (*linear(self.rng.uniform(20, 90) * np.array([1, 0.93, 0.82])), 1))

    def flakes(self, nodes, links, value, place):
        """The grain of galvanised sheet."""
        cells = nodes.new("ShaderNodeTexVoronoi")
        cells.inputs["Scale"].default_value = self.rng.uniform(0.5, 1.3)
        links.new(place, cells.inputs["Vector"])
        grey = self.math(nodes, links, "MULTIPLY", cells.outputs["Color"], self.rng.uniform(0.15, 0.5))
        return self.mix(nodes, links, grey, value, (*self.rng.uniform(0.05, 0.5, 3).mean(keepdims=True).repeat(3), 1))
