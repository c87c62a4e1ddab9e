//! Lines as triangles: wires with round joins and caps, and thin lines in great numbers. Both fade out over a pixel at
//! their edges, since the window is drawn without any smoothing of its own.

use egui::{Color32, Mesh, Pos2, Vec2, epaint::Vertex};
use lyon::math::point;
use lyon::tessellation::{
    BuffersBuilder, LineCap, LineJoin, StrokeOptions, StrokeTessellator, StrokeVertex, VertexBuffers,
};

/// How far a drawn curve may lie from the right one, in screen points.
const TOLERANCE: f32 = 0.12;

/// Miter of thin lines at sharp bends, in half widths at the most.
const MOST_MITER: f32 = 2.0;

/// How a line ends.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cap {
    /// Square at its last point: dashes, bands.
    Flat,
    /// With half a circle round its last point.
    Round,
}

/// A corner of a triangle, and the way outwards from the line there.
#[derive(Debug, Clone, Copy)]
struct Corner {
    at: Pos2,
    outwards: Vec2,
}

/// Draws lines into meshes. Keeps its lists between lines, since they are many.
pub struct Strokes {
    tessellator: StrokeTessellator,
    buffers: VertexBuffers<Corner, u32>,
    edges: Vec<(u32, u32)>,
    rim: Vec<u32>,
    /// Width of a pixel in screen points.
    feather: f32,
}

impl Strokes {
    /// For a screen with so many pixels to the point.
    pub fn new(pixels_per_point: f32) -> Self {
        Self {
            tessellator: StrokeTessellator::new(),
            buffers: VertexBuffers::new(),
            edges: Vec::new(),
            rim: Vec::new(),
            feather: 1.0 / pixels_per_point.max(0.1),
        }
    }

    /// A line with round joins.
    pub fn line(&mut self, mesh: &mut Mesh, points: &[Pos2], width: f32, colour: Color32, cap: Cap) {
        let core = width - self.feather;
        if points.len() < 2 || points.iter().any(|at| !at.x.is_finite() || !at.y.is_finite()) {
            return;
        }
        if core < 0.1 || self.tessellate(points, core, cap).is_none() {
            self.thin(mesh, points, width, colour);
            return;
        }
        let first = index(mesh.vertices.len());
        mesh.vertices.extend(self.buffers.vertices.iter().map(|corner| Vertex::untextured(corner.at, colour)));
        mesh.indices.extend(self.buffers.indices.iter().map(|&corner| first + corner));
        self.feather_edges(mesh, first);
    }

    fn tessellate(&mut self, points: &[Pos2], width: f32, cap: Cap) -> Option<()> {
        self.buffers.vertices.clear();
        self.buffers.indices.clear();
        let cap = match cap {
            Cap::Flat => LineCap::Butt,
            Cap::Round => LineCap::Round,
        };
        let options = StrokeOptions::tolerance(TOLERANCE)
            .with_line_width(width)
            .with_line_join(LineJoin::Round)
            .with_line_cap(cap);
        let mut builder = BuffersBuilder::new(&mut self.buffers, |vertex: StrokeVertex<'_, '_>| Corner {
            at: Pos2::new(vertex.position().x, vertex.position().y),
            outwards: Vec2::new(vertex.normal().x, vertex.normal().y),
        });
        let mut path = self.tessellator.builder(&options, &mut builder);
        let mut rest = points.iter().map(|at| point(at.x, at.y));
        path.begin(rest.next()?);
        for at in rest {
            path.line_to(at);
        }
        path.end(false);
        path.build().ok().filter(|()| !self.buffers.indices.is_empty())
    }

    /// A strip of one pixel along every edge that only one triangle has, fading to nothing.
    fn feather_edges(&mut self, mesh: &mut Mesh, first: u32) {
        self.edges.clear();
        for triangle in self.buffers.indices.chunks_exact(3) {
            for (a, b) in [(triangle[0], triangle[1]), (triangle[1], triangle[2]), (triangle[2], triangle[0])] {
                self.edges.push((a.min(b), a.max(b)));
            }
        }
        self.edges.sort_unstable();
        self.rim.clear();
        self.rim.resize(self.buffers.vertices.len(), u32::MAX);
        for (n, &(a, b)) in self.edges.iter().enumerate() {
            let twice = self.edges.get(n + 1) == Some(&(a, b)) || (n > 0 && self.edges[n - 1] == (a, b));
            if twice {
                continue;
            }
            let [outer_a, outer_b] = [a, b].map(|corner| {
                let place = &mut self.rim[corner as usize]; // as long as the list of corners
                if *place == u32::MAX {
                    *place = index(mesh.vertices.len());
                    let Corner { at, outwards } = self.buffers.vertices[corner as usize];
                    mesh.vertices.push(Vertex::untextured(at + outwards * self.feather, Color32::TRANSPARENT));
                }
                *place
            });
            mesh.indices.extend([first + a, first + b, outer_b, first + a, outer_b, outer_a]);
        }
    }

    /// A line of about a pixel: solid along its middle, fading to both sides.
    pub fn thin(&self, mesh: &mut Mesh, points: &[Pos2], width: f32, colour: Color32) {
        if points.len() < 2 {
            return;
        }
        let half = width.max(self.feather).midpoint(self.feather);
        let colour = if width < self.feather { colour.gamma_multiply(width / self.feather) } else { colour };
        let first = index(mesh.vertices.len());
        let mut before: Option<Vec2> = None;
        for (n, &at) in points.iter().enumerate() {
            let after = points.get(n + 1).map(|&next| (next - at).normalized().rot90());
            let across = match (before, after) {
                (Some(one), Some(other)) => {
                    let sum = one + other;
                    // The middle between both directions, longer at a bend so that the line keeps its width.
                    sum * (2.0 / sum.length_sq().max(4.0 / (MOST_MITER * MOST_MITER)))
                }
                (Some(one), None) | (None, Some(one)) => one,
                (None, None) => Vec2::ZERO,
            };
            before = after.or(before);
            let off = across * half;
            mesh.vertices.extend([
                Vertex::untextured(at - off, Color32::TRANSPARENT),
                Vertex::untextured(at, colour),
                Vertex::untextured(at + off, Color32::TRANSPARENT),
            ]);
        }
        for n in 0..index(points.len() - 1) {
            let a = first + 3 * n;
            let (b, c, d, e, f) = (a + 1, a + 2, a + 3, a + 4, a + 5);
            mesh.indices.extend([a, b, d, b, e, d, b, c, e, c, f, e]);
        }
    }
}

/// A mesh counts its corners in `u32`; more than that do not fit into memory.
fn index(count: usize) -> u32 {
    u32::try_from(count).unwrap_or(u32::MAX)
}
